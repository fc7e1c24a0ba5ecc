"""Figures as formulas in text: OpenFormula with cells, or words with the names of steps."""

import re
from collections.abc import Callable
from functools import cache

from gramhour_service.calculation.worked import plain as in_digits
from gramhour_service.workbook.figures import FORMULA, Figure, Operand, has_cell

TERM, FACTOR, ATOM = 1, 2, 3
HOLDER = re.compile(r"\{(\d+)\}")
ONE_CALL = re.compile(r"[A-Z]+\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\)")

Address = Callable[[Figure], str]


def written(figure: Figure, address: Address) -> str:
    """Write how a figure is made, other cells by their addresses."""
    return _made(figure, address, 0)


def named(operand: Operand, address: Address) -> str:
    """Write a figure as what stands in its cell, or as how it is made."""
    return _term(operand, address, 0)


def _made(figure: Figure, address: Address, strength: int) -> str:
    if figure.sign == FORMULA:
        return _filled(figure, address, strength)
    left, right = figure.operands
    own = TERM if figure.sign in "+-" else FACTOR
    first = _term(left, address, own)
    last = _term(right, address, own + (figure.sign in "-/"))
    text = f"{first}{figure.sign}{last}"
    return f"({text})" if strength > own else text


def _term(operand: Operand, address: Address, strength: int) -> str:
    if not isinstance(operand, Figure):
        return in_digits(operand) if operand >= 0 else f"({in_digits(operand)})"
    if has_cell(operand):
        return address(operand)
    return _made(operand, address, strength)


def _filled(figure: Figure, address: Address, strength: int) -> str:
    pieces, is_one_call = _pieces(figure.text)
    text = "".join(
        [
            piece
            if isinstance(piece, str)
            else _term(figure.operands[piece[0]], address, 0 if piece[1] else ATOM)
            for piece in pieces
        ]
    )
    return text if is_one_call or not strength else f"({text})"


@cache
def _pieces(text: str) -> tuple[tuple[str | tuple[int, bool], ...], bool]:
    """Take a formula apart: texts, and operands, each with whether it is an argument alone."""
    pieces: list[str | tuple[int, bool]] = []
    at = 0
    for holder in HOLDER.finditer(text):
        start, end = holder.span()
        before, after = text[max(0, start - 1) : start], text[end : end + 1]
        is_argument = bool(before) and before in "(;" and bool(after) and after in ");"
        pieces += [text[at:start], (int(holder[1]), is_argument)]
        at = end
    pieces.append(text[at:])
    return tuple(pieces), ONE_CALL.fullmatch(text) is not None

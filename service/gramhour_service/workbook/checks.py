"""What the formulas rely on, in cells: comparisons that no formula sees, and bounds of members."""

from collections.abc import Iterator
from functools import partial
from typing import NamedTuple

from gramhour_service.workbook import document as ods
from gramhour_service.workbook.book import CHECKS, Book
from gramhour_service.workbook.document import HEAD, NOTE
from gramhour_service.workbook.figures import CELL, Bounds, Figure
from gramhour_service.workbook.layout import about, label_of, owner
from gramhour_service.workbook.writing import named

HOLDS, LEFT = "yes", "NO"
HEAD_ROWS = 2
ALL_HOLD = "Every formula holds: change a yellow cell, and all is computed anew."
ONE_LEFT = (
    "AN EDIT WENT BEYOND WHAT THIS WORKBOOK CAN COMPUTE: see Checks, and ask for a fresh quote"
)


class Check(NamedTuple):
    """What must be so: as a formula, and in words."""

    formula: str
    says: str


def checks_of(book: Book) -> list[Check]:
    """List all checks, each once."""
    found = dict.fromkeys([*_comparisons(book), *_bounds(book)])
    return list(found)


def state(checks: list[Check]) -> str:
    """Say in one cell whether all of them hold."""
    checked = f"[${CHECKS}.$A${HEAD_ROWS + 1}:.$A${HEAD_ROWS + len(checks)}]"
    return f'IF(COUNTIF({checked};"{HOLDS}")={len(checks)};"{ALL_HOLD}";"{ONE_LEFT}")'


def check_rows(checks: list[Check]) -> Iterator[str]:
    """Write the sheet of checks."""
    yield ods.row(ods.text("holds", HEAD), ods.text("what the formulas rely on", HEAD))
    yield ods.row()
    for each in checks:
        holds = f'IF(IFERROR({each.formula};FALSE());"{HOLDS}";"{LEFT}")'
        yield ods.row(ods.formula(holds, HOLDS, ods.PLAIN), ods.text(each.says, NOTE))


def in_words(figure: Figure) -> str:
    """Name a figure instead of its cell."""
    if figure.sign != CELL:
        return label_of(figure)
    *_, of, name = figure.text.split("/")
    return f"{of} {int(name) + 1}" if name.isdigit() else name


def _comparisons(book: Book) -> Iterator[Check]:
    refer = partial(book.address, on=CHECKS)
    for each in book.quote.conditions:
        sides = [named(side, refer) for side in (each.left, each.right)]
        words = [named(side, in_words) for side in (each.left, each.right)]
        whose = about(each.left) if isinstance(each.left, Figure) else ""
        formula, says = each.sign.join(sides), f" {each.sign} ".join(words)
        if not each.outcome:
            formula, says = f"NOT({formula})", f"not: {says}"
        yield Check(formula, f"{says} ({whose})" if whose else says)


def _bounds(book: Book) -> Iterator[Check]:
    for pointer, figure in book.layout.members.items():
        if figure.bounds:
            at = book.address(figure, CHECKS)
            whose = f" ({owner(pointer)})" if owner(pointer) else ""
            yield Check(_within(at, figure.bounds), f"{in_words(figure)} {figure.bounds}{whose}")


def _within(at: str, bounds: Bounds) -> str:
    parts = [f"{at}{sign}{amount}" for sign, amount in bounds.signs]
    if bounds.is_whole:
        parts.append(f"INT({at})={at}")
    return f"AND(ISNUMBER({at});{';'.join(parts)})"

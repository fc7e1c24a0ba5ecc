"""What the formulas rely on, in cells: comparisons that no formula sees, and bounds of members."""

from collections.abc import Iterator
from functools import partial
from typing import NamedTuple

from gramhour_service.workbook import document as ods
from gramhour_service.workbook.book import CHECKS, Book
from gramhour_service.workbook.document import HEAD, NOTE
from gramhour_service.workbook.figures import (
    REMAINDER,
    Bounds,
    Condition,
    Figure,
)
from gramhour_service.workbook.layout import about, in_words, owner
from gramhour_service.workbook.writing import named

HOLDS, LEFT = "yes", "NO"
HEAD_ROWS = 2
ALL_HOLD = "Every formula holds: change a yellow cell, and all is computed anew."
BEYOND = "AN EDIT WENT BEYOND WHAT THIS WORKBOOK CAN COMPUTE: ask for a fresh quote. See Checks: "
WHAT_TO_DO = "must be so; where it says NO, take the edit back or ask for a fresh quote"

IS = {
    ("<", True): "is less than",
    ("<", False): "is at least",
    (">", True): "is more than",
    (">", False): "is at most",
    ("<=", True): "is at most",
    ("<=", False): "is more than",
    (">=", True): "is at least",
    (">=", False): "is less than",
    ("=", True): "is",
    ("=", False): "is not",
    ("<>", True): "is not",
    ("<>", False): "is",
}
"""How a comparison that came out so is said."""


class Check(NamedTuple):
    """What must be so: as a formula, and in words."""

    formula: str
    says: str


def checks_of(book: Book) -> list[Check]:
    """List all checks, each once."""
    found = dict.fromkeys([*_comparisons(book), *_bounds(book)])
    return list(found)


def state(checks: list[Check]) -> str:
    """Say in one cell whether all of them hold, else the first that does not."""
    first, last = HEAD_ROWS + 1, HEAD_ROWS + len(checks)
    checked = f"[${CHECKS}.$A${first}:.$A${last}]"
    says = f'INDEX([${CHECKS}.$B${first}:.$B${last}];MATCH("{LEFT}";{checked};0))'
    return f'IF(COUNTIF({checked};"{HOLDS}")={len(checks)};"{ALL_HOLD}";"{BEYOND}"&{says})'


def check_rows(checks: list[Check]) -> Iterator[str]:
    """Write the sheet of checks."""
    yield ods.row(ods.text("holds", HEAD), ods.text(WHAT_TO_DO, HEAD))
    yield ods.row()
    for each in checks:
        holds = f'IF(IFERROR({each.formula};FALSE());"{HOLDS}";"{LEFT}")'
        yield ods.row(ods.formula(holds, HOLDS, ods.PLAIN), ods.text(each.says, NOTE))


def _comparisons(book: Book) -> Iterator[Check]:
    refer = partial(book.address, on=CHECKS)
    for each in book.quote.conditions:
        sides = [named(side, refer) for side in (each.left, each.right)]
        formula = each.sign.join(sides)
        if not each.outcome:
            formula = f"NOT({formula})"
        whose = about(each.left) if isinstance(each.left, Figure) else ""
        yield Check(formula, _of(whose, each.says or _said(each)))


def _of(whose: str, says: str) -> str:
    return f"{whose}: {says}" if whose else says


def _said(each: Condition) -> str:
    """Say a comparison of the calculation's in words."""
    verb = IS[each.sign, each.outcome]
    left = each.left
    if isinstance(left, Figure) and left.text == REMAINDER:
        return f"{named(left.operands[0], in_words)} {verb} a whole number"
    return f"{named(left, in_words)} {verb} {named(each.right, in_words)}"


def _bounds(book: Book) -> Iterator[Check]:
    for pointer, figure in book.layout.members.items():
        if figure.bounds:
            at = book.address(figure, CHECKS)
            says = f"{in_words(figure)} is {_between(figure.bounds)}"
            yield Check(_within(at, figure.bounds), _of(owner(pointer), says))


BOUND = {">=": "at least {}", ">": "more than {}", "<=": "at most {}", "<": "less than {}"}


def _between(bounds: Bounds) -> str:
    ends = " and ".join(BOUND[sign].format(f"{end:,}") for sign, end in bounds.signs)
    return f"a whole number, {ends}" if bounds.is_whole else ends


def _within(at: str, bounds: Bounds) -> str:
    parts = [f"{at}{sign}{amount}" for sign, amount in bounds.signs]
    if bounds.is_whole:
        parts.append(f"INT({at})={at}")
    return f"AND(ISNUMBER({at});{';'.join(parts)})"

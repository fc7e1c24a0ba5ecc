"""Edits of a workbook's yellow cells, drawn, and the same change in the request."""

import copy
from decimal import Decimal
from itertools import pairwise
from random import Random
from typing import Any, NamedTuple

from tests.workbook.cells import Cell
from tests.workbook.recalculated import Edit

VALUE, POINTER = 2, 5
HEAD_ROWS = 2
WHOLE = (
    "quantity", "pieces_per_build", "count", "one_off_units", "learning_until", "made_before",
    "usual_packs", "from_packs", "free_shipping_from_packs", "pack_quantity", "usual_pieces",
    "up_to_units", "from_quantity", "multiple_of",
)  # fmt: skip


class Change(NamedTuple):
    """A cell that is edited, the member that it holds, and what is put there."""

    edit: Edit
    pointer: str
    value: Decimal


def drawn_change(random: Random, cells: list[Cell]) -> Change:
    """Draw a member's cell and another value for it."""
    sheet = random.choice(["Rates", "Rates", "Description"])
    shown = {(each.row, each.column): each.value for each in cells if each.sheet == sheet}
    row = random.randrange(HEAD_ROWS, 1 + max(row for row, _ in shown))
    pointer, was = shown[row, POINTER], Decimal(repr(float(shown[row, VALUE])))
    value = _other(random, pointer, was.normalize())
    return Change((sheet, f"C{row + 1}", float(value)), pointer, value)


def _other(random: Random, pointer: str, was: Decimal) -> Decimal:
    name = pointer.rsplit("/", 1)[-1]
    if name in WHOLE or "/breaks/" in pointer:
        return max(
            Decimal(1), Decimal(round(float(was) * random.uniform(0.5, 1.6))) + random.randint(0, 2)
        )
    exponent = was.as_tuple().exponent
    assert isinstance(exponent, int)
    places = max(0, -exponent)
    if not was:
        return Decimal(random.randint(1, 9))
    moved = (was * Decimal(repr(random.uniform(0.7, 1.3)))).quantize(Decimal(1).scaleb(-places))
    return min(moved, Decimal(100)) if name.endswith("_pct") else moved


def changed(order: Any, breaks: list[int], change: Change) -> Any:
    """Make the same change in the order that the workbook was made of."""
    order = copy.deepcopy(order)
    order["request"]["breaks"] = list(breaks)
    first, *parts = change.pointer.split("/")[1:]
    holder: Any = order["rates"] if first == "rates" else order["request"]
    steps = parts if first == "rates" else [first, *parts]
    for step, after in pairwise(steps):
        if isinstance(holder, list):
            holder = holder[int(step)]
        else:
            holder = holder.setdefault(step, [] if after.isdigit() else {})
    last = steps[-1]
    is_whole = last in WHOLE or first == "breaks"
    value: Any = (
        int(change.value) if is_whole and change.value == int(change.value) else f"{change.value:f}"
    )
    holder[int(last) if isinstance(holder, list) else last] = value
    return order

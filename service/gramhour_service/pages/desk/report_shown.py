"""A line of a repricing as a row: the prices of the quantity that moves most, the least margin.

A listing has several prices. Which of them a row shows is chosen here, by comparing the report's
own figures; nothing is computed that could be read as one.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

Line = Mapping[str, Any]


class Row(NamedTuple):
    """A line, the break whose price moves most, and the break with the least margin."""

    line: Line
    moved: Line | None
    least: Line | None


def shown_lines(lines: Sequence[Line]) -> list[Row]:
    """Choose for each line what its row shows."""
    return [Row(line, _moved(line["breaks"]), _least(line["breaks"])) for line in lines]


def _moved(breaks: Sequence[Line]) -> Line | None:
    """Find the price that moves most in proportion; the first of equal ones."""
    return max(breaks, key=_move, default=None)


def _move(told: Line) -> Decimal:
    old = Decimal(told.get("old_unit_price", "0"))
    return abs(Decimal(told["unit_price"]) - old) / old if old else Decimal(0)


def _least(breaks: Sequence[Line]) -> Line | None:
    """Find the least margin; one that is not told, of a price of nothing, is the least of all."""
    known = [each for each in breaks if each["least_margin_pct"] is not None]
    return min(known, key=lambda each: Decimal(each["least_margin_pct"]), default=None)

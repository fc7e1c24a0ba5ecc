"""By how much the prices move that go up or down: the least, the most, and half of them."""

from decimal import Decimal
from statistics import median

from sqlite_utils import Database

from gramhour.contract.repricing import MoveRange
from gramhour_service.calculation.arithmetic import as_percentage
from gramhour_service.store.move_ranges import MoveRow, add_ranges, moves_of, ranges_of

WAYS = ("up", "down")


def keep_ranges(store: Database, name: str) -> None:
    """Find the ranges of a repricing that has all its lines, and keep them, within ``writing``."""
    found = ((way, moves_of(store, name, way)) for way in WAYS)
    add_ranges(store, name, [_range(way, moves) for way, moves in found if moves])


def told_ranges(store: Database, name: str) -> dict[str, MoveRange]:
    """Tell those of a repricing, by outcome."""
    return {
        row.outcome: MoveRange(
            least_pct=Decimal(row.least),
            median_pct=Decimal(row.median),
            most_pct=Decimal(row.most),
        )
        for row in ranges_of(store, name)
    }


def _range(way: str, moves: list[float]) -> MoveRow:
    """Say it of moves in rising order; of an even number two are in the middle, and their mean."""
    middle = moves[(len(moves) - 1) // 2 : len(moves) // 2 + 1]
    least, *in_the_middle, most = (
        Decimal(f"{each:.2f}") for each in (moves[0], *middle, moves[-1])
    )
    return MoveRow(way, f"{least}", f"{as_percentage(median(in_the_middle))}", f"{most}")

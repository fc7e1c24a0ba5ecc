"""A line of a repricing as the report keeps it: what it is sorted and counted by, and its JSON."""

from typing import NamedTuple

from msgspec import UNSET, json

from gramhour_service.repricing.lines import Line
from gramhour_service.store.repricings import FROM_NOTHING

ENCODER = json.Encoder()
FAILED_FIRST, UNDER_FLOOR_NEXT = -2e12, -1e12


class Reported(NamedTuple):
    """A line as it is kept; see ``LineRow``."""

    outcome: str
    under_floor: bool
    under_floor_if_kept: bool
    moves: float
    standing: float
    prices: str
    line: bytes


def reported(line: Line) -> Reported:
    """Write a line down."""
    told = line.told
    moves = 0.0 if told.change_pct is UNSET else abs(float(told.change_pct))
    if line.from_nothing:
        moves = FROM_NOTHING
    is_under = told.under_floor or told.under_floor_if_kept
    return Reported(
        outcome=told.outcome,
        under_floor=told.under_floor,
        under_floor_if_kept=told.under_floor_if_kept,
        moves=moves,
        standing=standing(moves, failed=told.outcome == "failed", is_under=is_under),
        prices=ENCODER.encode(line.prices).decode(),
        line=ENCODER.encode(told),
    )


def standing(moves: float, *, failed: bool, is_under: bool) -> float:
    """Say where a line stands among others: the least is the worst."""
    first = FAILED_FIRST if failed else 0.0
    if is_under:
        first = UNDER_FLOOR_NEXT
    return first - moves

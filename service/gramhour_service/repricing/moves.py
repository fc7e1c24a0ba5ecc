"""By how much the prices of a listing move, and what that is called."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Literal, NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.listing import Listing
from gramhour_service.calculation.arithmetic import ZERO, as_percentage

Outcome = Literal["new", "up", "down", "unchanged", "held", "failed"]
PERCENT = 100


class Move(NamedTuple):
    """A shown price and the one before at a quantity; none where it is not sold."""

    before: Decimal | None
    now: Decimal | None

    @property
    def by(self) -> Decimal:
        """By how much it moves."""
        return ZERO if self.before is None or self.now is None else self.now - self.before

    @property
    def share(self) -> Decimal:
        """By which share of the price before it moves; 0 where that was nothing."""
        return self.by / self.before if self.before else ZERO


def moves_between(before: Mapping[int, Decimal], now: Mapping[int, Decimal]) -> list[Move]:
    """Compare shown prices, each by the quantity it holds from, at every break of either."""
    if before.keys() == now.keys():
        return [Move(before[n], now[n]) for n in sorted(now)]
    return [Move(_at(before, n), _at(now, n)) for n in sorted({*before, *now})]


def _at(prices: Mapping[int, Decimal], quantity: int) -> Decimal | None:
    reached = [n for n in prices if n <= quantity]
    return prices[max(reached)] if reached else None


def largest_pct(moves: list[Move]) -> Decimal | UnsetType:
    """Say by how many per cent the price moves that moves most; nothing without one before.

    A rise from 0 has no percentage.
    """
    shares = [
        move.share for move in moves if move.before is not None and (move.before or not move.by)
    ]
    return as_percentage(max(shares, key=abs) * PERCENT) if shares else UNSET


def rises_from_nothing(moves: list[Move]) -> bool:
    """Say whether a price was 0, as in a sale of 100 %, and is not now: no percentage says that."""
    return any(move.before is not None and not move.before and move.by > 0 for move in moves)


def outcome_of(listing: Listing, moves: list[Move], nets: Callable[[], list[Move]]) -> Outcome:
    """Say in a word what moves: what was not sold at some quantity, or is not now, is new.

    Where no shown price moves the net ones count.
    """
    if all(move.before is None for move in moves):
        return "new"
    if listing.hold is True:
        return "held"
    if any(move.before is None or move.now is None for move in moves):
        return "new"
    if not any(move.by for move in moves):
        moves = nets()
    else:
        worth_making = ZERO if listing.least_change is UNSET else listing.least_change
        if all(abs(move.by) < worth_making for move in moves):
            return "unchanged"
    largest = max(moves, key=lambda move: (abs(move.share), abs(move.by)))
    return "unchanged" if not largest.by else "down" if largest.by < 0 else "up"

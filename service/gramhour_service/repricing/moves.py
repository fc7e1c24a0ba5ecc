"""By how much the prices of a listing move, and what that is called."""

from collections.abc import Mapping
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
    return [Move(_at(before, n), _at(now, n)) for n in sorted({*before, *now})]


def _at(prices: Mapping[int, Decimal], quantity: int) -> Decimal | None:
    reached = [n for n in prices if n <= quantity]
    return prices[max(reached)] if reached else None


def largest_pct(moves: list[Move]) -> Decimal | UnsetType:
    """Say by how many per cent the price moves that moves most; nothing without one before."""
    shares = [move.share for move in moves if move.before is not None]
    return as_percentage(max(shares, key=abs) * PERCENT) if shares else UNSET


def outcome_of(listing: Listing, moves: list[Move]) -> Outcome:
    """Say in a word what moves: what was not sold at some quantity, or is not now, is new."""
    if all(move.before is None for move in moves):
        return "new"
    if listing.hold is True:
        return "held"
    if any(move.before is None or move.now is None for move in moves):
        return "new"
    worth_making = ZERO if listing.least_change is UNSET else listing.least_change
    if all(not move.by or abs(move.by) < worth_making for move in moves):
        return "unchanged"
    largest = max(moves, key=lambda move: (abs(move.share), abs(move.by)))
    return "down" if largest.by < 0 else "up"

"""A resolved product in other filaments: what does not depend on them is not resolved again."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from msgspec import UNSET

from gramhour.contract import product as described
from gramhour_service.calculation.failures import largest_failure_factor
from gramhour_service.calculation.job import Feed, HoursForm, Piece, Product
from gramhour_service.resolve.rates import Rates


def in_other_filaments(
    resolved: Product, swapped: described.Product, rates: Rates
) -> Product | None:
    """Put the filaments of a swapped product in place of a resolved one's.

    None if more depends on them than their price and how they fare: grams told as a volume or a
    length, shapes, whole packs, and builds that meet more failures than before.
    """
    if swapped.pieces is UNSET:
        return resolved
    pieces = []
    for piece, now in zip(resolved.pieces, swapped.pieces, strict=True):
        other = _piece(piece, now, rates)
        if other is None:
            return None
        pieces.append(other)
    return replace(resolved, pieces=tuple(pieces))


def _piece(piece: Piece, now: described.Piece, rates: Rates) -> Piece | None:
    if now.feed is UNSET:
        return None
    codes = [feed.material for feed in now.feed]
    if codes == [feed.material.code for feed in piece.feeds]:
        return piece
    if any(feed.mass_g is UNSET for feed in now.feed) or any(f.whole_packs for f in piece.feeds):
        return None
    feeds = [
        Feed(rates.material(code), feed.grams, feed.per_build_g, whole_packs=False)
        for code, feed in zip(codes, piece.feeds, strict=True)
    ]
    if _fares_worse(feeds, piece):
        return None
    return replace(piece, feeds=tuple(feeds))


def _fares_worse(feeds: list[Feed], piece: Piece) -> bool:
    """Say whether a build meets more failures by the hour in some filaments than in a piece's."""
    if not isinstance(piece.machine.failures, HoursForm):
        return False
    return _failure_factor(feeds) > _failure_factor(piece.feeds)


def _failure_factor(feeds: Sequence[Feed]) -> Decimal:
    return largest_failure_factor([feed.material.failure_factor for feed in feeds])

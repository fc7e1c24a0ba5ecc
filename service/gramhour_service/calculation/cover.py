"""Exact cover: the cheapest set of whole packs that holds at least what is needed.

All packs of one size count together and take the lowest price open to that number; buying
more packs than needed to open a price is allowed. Of equally cheap sets the one with least
left over counts, then fewest packs, then most of the size named first.

How it is found. What ranks a set (its price, what it holds, its packs, how many of each size)
adds up over packs, so one whole number, the *rank*, carries it all: sets compare as their ranks
do, and the winner's packs are read off its rank. A size at one price is *terms*: from so many
packs on, at so much rank each. The terms with the least rank for what they hold are the *base*:
either the base is bought, and more of it fills whatever the others leave, or it is not bought,
and the next best terms are the base. What a set of other packs ranks above the base's rate is
its *excess*. Of two such sets whose totals are equal modulo the base's size the larger is worth
keeping only if its excess is smaller, and no set is if its excess is beyond the best cover
known. So the work is bounded by the sizes, whatever the need.
"""

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from gramhour_service.calculation.job import Offers
from gramhour_service.calculation.rules import rule

PRICE_DECIMALS = 9
LARGEST_PURCHASE = 10**10
"""Packs of one size that open a price, times what they hold: never more than this."""


class Terms(NamedTuple):
    """A size at one price: ``from_packs`` packs and more, at ``rank`` each."""

    size: int
    from_packs: int
    rank: int


class Filling(NamedTuple):
    """A set of packs other than the base's: what it holds, and its excess over the base's rate."""

    total: int
    excess: int


class Packs(NamedTuple):
    """So many packs of one size in a cover."""

    pack_quantity: int
    packs: int


@rule
def open_price(offers: Offers, pack_quantity: int, packs: int) -> Decimal:
    """All packs of one size together take the lowest price that is open to their number."""
    return min(
        [
            offer.price
            for offer in offers
            if offer.pack_quantity == pack_quantity and offer.from_packs <= packs
        ]
    )


@rule
def cheapest_packs(offers: Offers, need: int) -> tuple[Packs, ...]:
    """What is bought is the cheapest set of whole packs that holds the need, over all offers."""
    if not need:
        return ()
    if len(offers) == 1:
        (offer,) = offers
        return (Packs(offer.pack_quantity, max(offer.from_packs, -(-need // offer.pack_quantity))),)
    return _cheapest_packs(offers, need)


@lru_cache(maxsize=4096)
def _cheapest_packs(offers: Offers, need: int) -> tuple[Packs, ...]:
    sizes = list(dict.fromkeys(size for size, _, _ in offers))
    common = math.gcd(*sizes)
    bits = (4 * (need + LARGEST_PURCHASE)).bit_length()
    terms = [
        Terms(
            size // common,
            from_packs,
            _rank(price, size // common, sizes.index(size), bits, len(sizes)),
        )
        for size, price, from_packs in offers
    ]
    rank = _least_rank(terms, -(-need // common))
    counts = _counts(rank, bits, len(sizes))
    return tuple(Packs(size, packs) for size, packs in zip(sizes, counts, strict=True) if packs)


def _rank(price: Decimal, size: int, place: int, bits: int, sizes: int) -> int:
    """Write a pack's price, what it holds, itself as one, and its size's place as one number."""
    digits = ((int(price.scaleb(PRICE_DECIMALS)) << bits) + size << bits) + 1
    return (digits << bits * sizes) - (1 << bits * (sizes - 1 - place))


def _counts(rank: int, bits: int, sizes: int) -> list[int]:
    """Read off a rank how many packs of each size it stands for."""
    return [-rank >> bits * (sizes - 1 - place) & (1 << bits) - 1 for place in range(sizes)]


def _least_rank(terms: Sequence[Terms], need: int) -> int:
    """Find the least rank of any cover, trying each terms as the base, best first."""
    best = min(max(each.from_packs, -(-need // each.size)) * each.rank for each in terms)
    ordered = sorted(terms, key=lambda each: Fraction(each.rank, each.size))
    for place, base in enumerate(ordered):
        bought = base.from_packs if base.from_packs > 1 else 0
        left = need - bought * base.size
        dearer = bought * base.rank * base.size + base.rank * left >= best * base.size
        if left > 0 and not dearer:
            others = [each for each in ordered[place + 1 :] if each.size != base.size]
            fixed = bought * base.rank
            best = fixed + _least_filling(base, others, left, best - fixed)
    return best


def _least_filling(base: Terms, others: Sequence[Terms], need: int, known: int) -> int:
    """Find the least rank of other packs and base packs that hold the need, ``known`` at most."""
    best = min(known, -(-need // base.size) * base.rank) * base.size
    kept = [Filling(0, 0)]
    for size in dict.fromkeys(each.size for each in others):
        added: list[Filling] = []
        for terms in (each for each in others if each.size == size):
            step = terms.rank * base.size - base.rank * size
            inside = _by_remainder(kept if terms.from_packs == 1 else (), base.size)
            for total, excess in kept:
                total += terms.from_packs * size  # noqa: PLW2901 (walks on from here)
                excess += terms.from_packs * step  # noqa: PLW2901
                while True:
                    lacking = max(0, need - total)
                    best = min(
                        best, base.rank * (total + -(-lacking // base.size) * base.size) + excess
                    )
                    known_here = inside.setdefault(total % base.size, [])
                    if (
                        not lacking
                        or excess + base.rank * need >= best
                        or any(t <= total and e <= excess for t, e in known_here)
                    ):
                        break
                    known_here.append(Filling(total, excess))
                    added.append(Filling(total, excess))
                    total += size  # noqa: PLW2901
                    excess += step  # noqa: PLW2901
        kept = _worth_keeping([*kept, *added], base, best - base.rank * need)
    return best // base.size


def _by_remainder(fillings: Iterable[Filling], size: int) -> dict[int, list[Filling]]:
    index: dict[int, list[Filling]] = {}
    for filling in fillings:
        index.setdefault(filling.total % size, []).append(filling)
    return index


def _worth_keeping(fillings: Iterable[Filling], base: Terms, limit: int) -> list[Filling]:
    """Drop what a smaller total with no more excess replaces, and what exceeds the limit."""
    least: dict[int, int] = {}
    kept = []
    for filling in sorted(fillings):
        remainder = filling.total % base.size
        if filling.excess < min(limit, least.get(remainder, limit)):
            least[remainder] = filling.excess
            kept.append(filling)
    return kept

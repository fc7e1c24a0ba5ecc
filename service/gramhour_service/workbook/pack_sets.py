"""The sets of packs that can be the cheapest cover of a need, at any price.

Let the filling packs be those of the best price a piece, of size b. Among b other packs there are
some that hold a multiple of b together; packs of the filling offer are no dearer in their place,
and fewer where they are larger. So fewer than b others need ever be bought beyond what opens their
offers, and of each size from one offer, for a size has one price. The same holds between any two of
the others, in each order that their prices a piece can have. Where these sets are few they are
all listed, and the cover is exact for any price and any need. Where they are many, those are listed
that are found cheapest for needs and prices near the present ones.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from gramhour_service.calculation.cover import cheapest_packs
from gramhour_service.calculation.job import Offers, PackOffer

MOST_SETS, MOST_NEARBY, MOST_SIZES = 48, 24, 5
NEARBY = (Decimal(1), Decimal("0.5"), Decimal("0.8"), Decimal("1.3"), Decimal(2))
PRICES_APART = (Decimal("0.7"), Decimal("1.4"))


class PackSet(NamedTuple):
    """So many packs of some offers, and packs of the offer ``filled_by`` for what is left."""

    fixed: tuple[tuple[int, int], ...]
    filled_by: int


@lru_cache(maxsize=256)
def every_set(offers: Offers) -> tuple[PackSet, ...] | None:
    """List all sets that can be the cheapest; none where they, or their sizes, are too many."""
    if len({offer.pack_quantity for offer in offers}) > MOST_SIZES:
        return None
    found: dict[PackSet, None] = {}
    for place, base in enumerate(offers):
        others = sorted({offer.pack_quantity for offer in offers} - {base.pack_quantity})
        for order in permutations(others):
            for fixed, _ in _packs_beside(offers, base.pack_quantity, order):
                found[PackSet(tuple(sorted(fixed)), place)] = None
                if len(found) > MOST_SETS:
                    return None
    return tuple(found)


def _packs_beside(
    offers: Offers, base: int, sizes: Sequence[int]
) -> Iterator[tuple[tuple[tuple[int, int], ...], int]]:
    """Go through packs of some sizes, the best price a piece first, beside those of the base's.

    Each with how many there are beyond what opens their offers: fewer than the base holds, and of
    a size fewer than make up a multiple of the base, or of a size that is a better buy.
    """
    if not sizes:
        yield (), 0
        return
    *better, size = sizes
    of_size = [place for place, offer in enumerate(offers) if offer.pack_quantity == size]
    most = min(
        other // math.gcd(other, size) for other in (base, *_replacing(offers, better, size))
    )
    for beside, beyond in _packs_beside(offers, base, better):
        yield beside, beyond
        for place in of_size:
            opening = _opening(offers[place])
            for packs in range(max(1, opening), opening + min(most, base - beyond)):
                yield ((place, packs), *beside), beyond + packs - opening


def _replacing(offers: Offers, better: Sequence[int], size: int) -> list[int]:
    """List the sizes whose packs can stand in place of a size's: both at one price, always open."""
    of_sizes = Counter(offer.pack_quantity for offer in offers)
    opened = {offer.pack_quantity for offer in offers if offer.from_packs > 1}
    plain_ones = {each for each, number in of_sizes.items() if number == 1} - opened
    return [each for each in better if {each, size} <= plain_ones]


def _opening(offer: PackOffer) -> int:
    """Count the packs that an offer asks for; one that asks for one asks for none."""
    return offer.from_packs if offer.from_packs > 1 else 0


def sets_nearby(offers: Offers, need: int) -> tuple[PackSet, ...]:
    """List sets: the cheapest, every offer alone, the cheapest for needs and prices nearby."""
    best = _set_of(offers, need)
    found = dict.fromkeys([best, *(PackSet((), place) for place in range(len(offers)))])
    for priced, wanted in _nearby(offers, need):
        if len(found) >= MOST_NEARBY:
            break
        found.setdefault(_set_of(priced, wanted))
    return tuple(found)


def _nearby(offers: Offers, need: int) -> Iterator[tuple[Offers, int]]:
    needs = {max(1, int(need * factor)) for factor in NEARBY}
    needs |= {max(1, need + step) for step in (-2, -1, 1, 2)}
    for wanted in sorted(needs):
        yield offers, wanted
    for place, offer in enumerate(offers):
        for factor in PRICES_APART:
            price = (offer.price * factor).quantize(Decimal("1e-9"))
            changed = offer._replace(price=price)
            yield (*offers[:place], changed, *offers[place + 1 :]), need


def _set_of(offers: Offers, need: int) -> PackSet:
    """Find the cheapest packs, and let the offer that holds most of them fill what is left."""
    packs = cheapest_packs(offers, max(1, need))
    bought = [
        (_offer_open_to(offers, each.pack_quantity, each.packs), each.packs) for each in packs
    ]
    filled_by = max(bought, key=lambda each: offers[each[0]].pack_quantity * each[1])[0]
    return PackSet(tuple(sorted(each for each in bought if each[0] != filled_by)), filled_by)


def _offer_open_to(offers: Offers, size: int, packs: int) -> int:
    """Find the offer whose price so many packs of a size take."""
    open_ones = [
        place for place, each in enumerate(offers)
        if each.pack_quantity == size and each.from_packs <= packs
    ]  # fmt: skip
    return min(open_ones, key=lambda place: offers[place].price)

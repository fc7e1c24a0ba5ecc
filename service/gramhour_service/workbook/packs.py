"""Covers of packs in cells: the sets of packs that can be the cheapest, each with its cost.

Which set is cheapest is a search, and a search is no formula. So sets stand in the workbook: packs
that are fixed in number, and packs of one offer that fill what is left. The cheapest one counts.

Which sets can be the cheapest: let the filling packs be those of the best price a piece, of size b.
Among b other packs there are some that hold a multiple of b together; packs of the filling offer
are no dearer in their place. So fewer than b others need ever be bought beyond what opens their
offers, and of each size from one offer, for a size has one price. Where these sets are few they
all stand there, and the cover is exact for any price and any need. Where they are many, those stand
there that were found cheapest for needs and prices near the present ones, and an edit of what the
search saw is pointed out.
"""

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from gramhour_service.calculation import components
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.components import Demand, Purchase
from gramhour_service.calculation.cover import cheapest_packs
from gramhour_service.calculation.job import Offers, PackOffer
from gramhour_service.workbook.figures import (
    Figure,
    formula,
    in_its_cell,
    named,
    plain,
    rely,
)
from gramhour_service.workbook.roundings import ceiling

MOST_SETS, MOST_NEARBY = 96, 24
TOO_DEAR = "9E+99"
NEARBY = (Decimal(1), Decimal("0.5"), Decimal("0.8"), Decimal("1.3"), Decimal(2))
PRICES_APART = (Decimal("0.7"), Decimal("1.4"))


class PackSet(NamedTuple):
    """So many packs of some offers, and packs of the offer ``filled_by`` for what is left."""

    fixed: tuple[tuple[int, int], ...]
    filled_by: int


class Cover(NamedTuple):
    """What a need is covered by: the cost of the packs, and how much they hold."""

    cost: Decimal
    held: Decimal


def whole_offers(offers: Offers) -> Offers:
    """Give offers as the calculation has them: whole numbers and plain prices."""
    return tuple(
        PackOffer(int(plain(size)), plain(price), int(plain(start)))
        for size, price, start in offers
    )


def cover(offers: Offers, need: Decimal, code: str) -> Cover:
    """Write the cover of a need as the cheapest of some sets."""
    now, wanted = whole_offers(offers), int(plain(need))
    need = in_its_cell(need, f"needed of {code}")
    tried = every_set(now)
    _rely_on_offers(offers)
    if tried is None:
        tried = sets_nearby(now, wanted)
        _rely_on_search(offers, need)
    rows = [_row(offers, now, each, need, wanted, code) for each in tried]
    if len(rows) == 1:
        return rows[0]
    least = min(plain(row.cost) for row in rows)
    cheapest = named(_listed("MIN", [row.cost for row in rows], least), f"cheapest packs of {code}")
    held = [_held_if_cheapest(row, cheapest) for row in rows]
    return Cover(cheapest, _listed("MIN", held, min(plain(each) for each in held)))


def _held_if_cheapest(row: Cover, cheapest: Decimal) -> Decimal:
    """Of equally cheap sets the one with least left over counts."""
    is_cheapest = plain(row.cost) == plain(cheapest)
    return formula(
        f"IF(ROUND({{0}}-{{1}};9)=0;{{2}};{TOO_DEAR})",
        plain(row.held) if is_cheapest else Decimal(TOO_DEAR),
        row.cost,
        cheapest,
        row.held,
    )


def _rely_on_offers(offers: Offers) -> None:
    """Note that the sets were made for these sizes, and for what opens these prices."""
    fixed = [amount for size, _, start in offers for amount in (size, start)]
    _rely_on_all(fixed if len(offers) > 1 else [])


def _rely_on_search(offers: Offers, need: Decimal) -> None:
    """Note that the sets were looked for at these prices and this need."""
    _rely_on_all([*[offer.price for offer in offers], need])


def _rely_on_all(seen: Sequence[Decimal | int]) -> None:
    for each in seen:
        rely("=", each, plain(each), outcome=True)


def _listed(name: str, amounts: Sequence[Decimal], value: Decimal) -> Figure:
    holders = ";".join(f"{{{n}}}" for n in range(len(amounts)))
    return formula(f"{name}({holders})", value, *amounts)


def _row(
    offers: Offers, now: Offers, tried: PackSet, need: Decimal, wanted: int, code: str
) -> Cover:
    """Write what one set costs and holds."""
    cost, held = ZERO, ZERO
    for place, packs in tried.fixed:
        size, price, _ = offers[place]
        cost, held = cost + packs * price, held + packs * size
    size, price, start = offers[tried.filled_by]
    size_now, _, start_now = now[tried.filled_by]
    left = max(0, wanted - int(plain(held)))
    filling = formula(
        "MAX({0};ROUNDUP(({1}-{2})/{3};0))", max(start_now, -(-left // size_now)),
        start, need, held, size,
    )  # fmt: skip
    cost = cost + filling * price
    if_any = formula("IF({0}=0;0;{1})", plain(cost) if wanted else ZERO, need, cost)
    bought = [f"{packs} of {now[place].pack_quantity}" for place, packs in tried.fixed]
    label = f"{code}: " + " and ".join([*bought, f"the rest of {size_now}"])
    return Cover(named(if_any, f"{label}, cost"), named(held + filling * size, f"{label}, hold"))


def every_set(offers: Offers) -> list[PackSet] | None:
    """List all sets that can be the cheapest; none where they are too many."""
    found: list[PackSet] = []
    for place, base in enumerate(offers):
        others = sorted({offer.pack_quantity for offer in offers} - {base.pack_quantity})
        for fixed, _ in _packs_beside(offers, base.pack_quantity, others):
            found.append(PackSet(fixed, place))
            if len(found) > MOST_SETS:
                return None
    return found


def _packs_beside(
    offers: Offers, base: int, sizes: Sequence[int]
) -> Iterator[tuple[tuple[tuple[int, int], ...], int]]:
    """Go through packs of some sizes that may stand beside those of the base's.

    Each with how many there are beyond what opens their offers: fewer than the base holds, and of
    a size fewer than make up a multiple of it.
    """
    if not sizes:
        yield (), 0
        return
    size, *rest = sizes
    of_size = [place for place, offer in enumerate(offers) if offer.pack_quantity == size]
    for beside, beyond in _packs_beside(offers, base, rest):
        yield beside, beyond
        fewer_than = min(base // math.gcd(base, size), base - beyond)
        for place in of_size:
            opening = _opening(offers[place])
            for packs in range(max(1, opening), opening + fewer_than):
                yield ((place, packs), *beside), beyond + packs - opening


def _opening(offer: PackOffer) -> int:
    """Count the packs that an offer asks for; one that asks for one asks for none."""
    return offer.from_packs if offer.from_packs > 1 else 0


def sets_nearby(offers: Offers, need: int) -> list[PackSet]:
    """List sets: the cheapest, every offer alone, the cheapest for needs and prices nearby."""
    best = _set_of(offers, need)
    found = dict.fromkeys([best, *(PackSet((), place) for place in range(len(offers)))])
    for priced, wanted in _nearby(offers, need):
        if len(found) >= MOST_NEARBY:
            break
        found.setdefault(_set_of(priced, wanted))
    return list(found)


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


# the rules that use covers


def usual_price_per_piece(offers: Offers, shipping: Decimal, usual_pieces: Decimal) -> Decimal:
    """Divide the usual purchase by what it holds."""
    value = components.usual_price_per_piece(
        whole_offers(offers), plain(shipping), int(plain(usual_pieces))
    )
    bought = cover(offers, usual_pieces, "a usual purchase")
    return formula("({0}+{1})/{2}", value, bought.cost, shipping, bought.held)


def whole_need(need: Decimal, beyond: Decimal, *, counted_in_pieces: bool) -> Decimal:
    """Round what is beyond the need half up, or all of it up."""
    value = components.whole_need(plain(need), plain(beyond), counted_in_pieces=counted_in_pieces)
    if not counted_in_pieces:
        return ceiling(need + beyond)
    return formula("ROUND({0};0)+ROUND(ROUND({1};6);0)", value, need, beyond)


def purchase(demand: Demand) -> Purchase:
    """Buy what an order needs of a component."""
    part = demand.component
    need = whole_need(demand.need, demand.beyond, counted_in_pieces=part.counted_in_pieces)
    bought = cover(part.offers, need, part.code)
    shipping = formula(
        "IF({0}=0;0;{1})",
        plain(part.shipping_per_purchase) if plain(need) else ZERO,
        in_its_cell(need, f"needed of {part.code}"),
        part.shipping_per_purchase,
    )
    left_over: Any = bought.held - need
    return Purchase(part, (), (), shipping, bought.cost + shipping, left_over)

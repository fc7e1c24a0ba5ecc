"""Covers of packs in cells: sets of packs that were found cheapest for some need near this one.

Which set of packs is cheapest is a search, and a search is no formula. So a number of sets stands
in the workbook, each with its cost in a cell: packs that are fixed in number, and packs of one
offer that hold what is left. The cheapest of them counts. With one offer nothing is fixed and the
cell is exact; with several, an edit of what the search saw is pointed out.
"""

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

MOST_SETS = 24
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
    tried = sets_to_try(now, wanted)
    rows = [_row(offers, now, each, need, wanted, code, n) for n, each in enumerate(tried, 1)]
    if len(rows) == 1:
        return rows[0]
    _rely_on_search(offers, need)
    least = min(plain(row.cost) for row in rows)
    cheapest = named(_listed("MIN", [row.cost for row in rows], least), f"cheapest packs of {code}")
    held = [
        formula(f"IF(ROUND({{0}}-{{1}};9)=0;{{2}};{TOO_DEAR})",
                plain(row.held) if plain(row.cost) == least else Decimal(TOO_DEAR),
                row.cost, cheapest, row.held)
        for row in rows
    ]  # fmt: skip
    return Cover(cheapest, _listed("MIN", held, min(plain(each) for each in held)))


def _rely_on_search(offers: Offers, need: Decimal) -> None:
    """Note that the sets were looked for with these offers and this need."""
    seen = [each for offer in offers for each in offer] + [need]
    texts = [f"{{{n}}}={plain(each):f}" for n, each in enumerate(seen)]
    rely("=", formula(f"IF(AND({';'.join(texts)});1;0)", 1, *seen), 1, outcome=True)


def _listed(name: str, amounts: Sequence[Decimal], value: Decimal) -> Figure:
    holders = ";".join(f"{{{n}}}" for n in range(len(amounts)))
    return formula(f"{name}({holders})", value, *amounts)


def _row(
    offers: Offers, now: Offers, tried: PackSet, need: Decimal, wanted: int, code: str, n: int
) -> Cover:
    """Write what one set costs and holds."""
    cost: Decimal = ZERO
    held: Decimal = ZERO
    for place, packs in tried.fixed:
        size, price, start = offers[place]
        dear = Decimal(TOO_DEAR) if packs < now[place].from_packs else packs * now[place].price
        cost = cost + formula(f"IF({packs}<{{0}};{TOO_DEAR};{packs}*{{1}})", dear, start, price)
        held = held + packs * size
    size, price, start = offers[tried.filled_by]
    left = max(0, wanted - int(plain(held)))
    packs_now = max(now[tried.filled_by].from_packs, -(-left // now[tried.filled_by].pack_quantity))
    filling = formula(
        "IF({0}=0;0;MAX({1};ROUNDUP(({0}-{2})/{3};0)))",
        Decimal(packs_now if wanted else 0),
        need, start, held, size,
    )  # fmt: skip
    label = f"packs of {code}, set {n}"
    filling = named(filling, f"{label}: packs of {size} that fill it")
    cost = named(cost + filling * price, f"{label}: cost")
    if tried.fixed:
        cost = named(
            formula("IF({0}=0;0;{1})", plain(cost) if wanted else ZERO, need, cost),
            f"{label}: cost",
        )
    return Cover(cost, named(held + filling * size, f"{label}: holds"))


def sets_to_try(offers: Offers, need: int) -> list[PackSet]:
    """List sets: every offer alone, the cheapest, and the cheapest for needs and prices nearby."""
    found = dict.fromkeys(PackSet((), place) for place in range(len(offers)))
    if len(offers) == 1:
        return list(found)
    best = _set_of(offers, need)
    found = dict.fromkeys([best, *found])
    for priced, wanted in _nearby(offers, need):
        if len(found) >= MOST_SETS:
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

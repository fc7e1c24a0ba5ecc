"""Bought-in parts in cells: the price of a piece from stock, and what is bought for an order."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from gramhour_service.calculation import components
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.components import Demand, Purchase
from gramhour_service.calculation.cover import Packs
from gramhour_service.calculation.job import Offers
from gramhour_service.workbook.figures import formula, in_its_cell, named, plain
from gramhour_service.workbook.packs import (
    TOO_DEAR,
    Cover,
    cheapest,
    chosen_set,
    covers,
    held_by_cheapest,
    if_needed,
    of_set,
    whole_offers,
)
from gramhour_service.workbook.roundings import ceiling

USUAL = "a usual purchase"


def usual_price_per_piece(offers: Offers, shipping: Decimal, usual_pieces: Decimal) -> Decimal:
    """Divide the usual purchase by what it holds."""
    value = components.usual_price_per_piece(
        whole_offers(offers), plain(shipping), int(plain(usual_pieces))
    )
    rows = covers(offers, usual_pieces, USUAL)
    cost = cheapest(rows, USUAL)
    return formula("({0}+{1})/{2}", value, cost, shipping, held_by_cheapest(rows, cost))


def whole_need(need: Decimal, beyond: Decimal, *, counted_in_pieces: bool) -> Decimal:
    """Round what is beyond the need half up, or all of it up."""
    value = components.whole_need(plain(need), plain(beyond), counted_in_pieces=counted_in_pieces)
    if not counted_in_pieces:
        return ceiling(need + beyond)
    return formula("ROUND({0};0)+ROUND(ROUND({1};6);0)", value, need, beyond)


def purchase(demand: Demand) -> Purchase:
    """Buy what an order needs of a component."""
    part, code = demand.component, demand.component.code
    need = whole_need(demand.need, demand.beyond, counted_in_pieces=part.counted_in_pieces)
    need = in_its_cell(need, f"needed of {code}")
    rows = covers(part.offers, need, code)
    cost = cheapest(rows, code)
    which = chosen_set(rows, cost, code)
    shipping = if_needed(need, part.shipping_per_purchase)
    packs = _packs(rows, which, need, part.offers, code)
    left_over: Any = sum([count * _size(part.offers, size) for size, count in packs]) - need
    return Purchase(
        component=part,
        packs=tuple(packs),
        prices=tuple([price_of_packs(part.offers, size, count) for size, count in packs]),
        shipping=shipping,
        cost=cost + shipping,
        left_over=left_over,
    )


def _packs(
    rows: Sequence[Cover], which: Decimal, need: Decimal, offers: Offers, code: str
) -> list[Packs]:
    """Say of each size how many packs are bought."""
    bought = []
    for size in dict.fromkeys(offer.pack_quantity for offer in whole_offers(offers)):
        of_size = if_needed(need, of_set(rows, which, [row.packs_of(size) for row in rows]))
        count: Any = named(of_size, f"packs of {size} of {code}")
        bought.append(Packs(size, count))
    return bought


def _size(offers: Offers, size: int) -> Decimal:
    """Find the cell of a pack size."""
    sizes: list[Any] = [each.pack_quantity for each in offers]
    found: Decimal = next(each for each in sizes if int(plain(each)) == size)
    return found


def price_of_packs(offers: Offers, size: int, packs: Any) -> Decimal:
    """Pay for packs of one size the lowest price that is open to their number."""
    of_size = [offer for offer in offers if int(plain(offer.pack_quantity)) == size]
    if len(of_size) == 1:
        paid: Decimal = packs * of_size[0].price
        return paid
    open_ones = [plain(each.price) for each in of_size if plain(each.from_packs) <= plain(packs)]
    value = plain(packs) * min(open_ones) if plain(packs) else ZERO
    choices = [f"IF({{{n}}}<={{0}};{{{n + 1}}};{TOO_DEAR})" for n in range(1, 2 * len(of_size), 2)]
    operands = [amount for each in of_size for amount in (each.from_packs, each.price)]
    return formula(f"IF({{0}}=0;0;{{0}}*MIN({';'.join(choices)}))", value, packs, *operands)

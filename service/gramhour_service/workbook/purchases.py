"""What is to be bought for an order, in cells: packs, what they cost, what is left over."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

from msgspec import UNSET

from gramhour.contract.rates import RateSheet
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.components import Purchase
from gramhour_service.calculation.feedstock import PacksBought
from gramhour_service.calculation.rules import RULES
from gramhour_service.workbook.roundings import half_even, half_up, standing

WHOLE, GRAMS = 0, 4
"""Decimals of counts, and of grams."""

AS_OFFERED = "As the offer has it."
PACKAGING_TOO = ", as packaging"
"""Said of a part that an order also has as a component: the two are bought apart."""

LEFT_OVER = "What the packs hold beyond the need; it goes on the shelf, and the order pays for it."
TOGETHER = "What is paid for the purchases of this order, shipping included."


class Bought(NamedTuple):
    """A row of the purchases: of what, what it says, by which sentence, with how many decimals."""

    thing: str
    says: str
    sentence: str
    decimals: int


Amounts = Iterator[tuple[Bought, Decimal]]


def bought_for(each: Break, sheet: RateSheet, digits: int) -> list[tuple[Bought, Decimal]]:
    """List the purchases of a break, and what they come to."""
    rows = [row for bought in each.costs.packs_bought for row in _material(bought, sheet, digits)]
    seen: set[str] = set()
    for bought in each.costs.purchases:
        code = bought.component.code
        beside = PACKAGING_TOO if code in seen else ""
        rows += _component(bought, sheet, digits, beside)
        seen.add(code)
    if not rows:
        return []
    paid = [amount for row, amount in rows if row.says.startswith(("price", "shipping"))]
    total = standing(sum(paid, ZERO))
    return [*rows, (Bought("All purchases", "price and shipping", TOGETHER, digits), total)]


def _material(bought: PacksBought, sheet: RateSheet, digits: int) -> Amounts:
    pack = bought.material.pack
    assert pack is not None, "whole packs have an offer"
    assert sheet.materials is not UNSET, "it was resolved of them"
    code = bought.material.code
    name = _name(code, sheet.materials[code].name)
    packs: Any = bought.packs
    yield Bought(name, "g in a pack", AS_OFFERED, GRAMS), pack.pack_g
    yield Bought(name, "packs", RULES["packs_for"].sentence, WHOLE), packs
    price = half_up(bought.price, digits)
    yield Bought(name, "price", RULES["price_of_packs"].sentence, digits), price
    left = half_even(bought.left_over_g, GRAMS)
    yield Bought(name, "left over, g", LEFT_OVER, GRAMS), left


def _component(bought: Purchase, sheet: RateSheet, digits: int, beside: str) -> Amounts:
    code = bought.component.code
    assert sheet.components is not UNSET, "it was resolved of them"
    rate = sheet.components[code]
    unit = "pieces" if bought.component.counted_in_pieces else str(rate.measure)
    name, offers = _name(code, rate.name) + beside, bought.component.offers
    if len(offers) == 1:
        held: Any = offers[0].pack_quantity
        yield Bought(name, f"{unit} in a pack", AS_OFFERED, WHOLE), held
    for (size, packs), price in zip(bought.packs, bought.prices, strict=True):
        of = "" if len(offers) == 1 else f" of {size}"
        count: Any = packs
        yield Bought(name, f"packs{of}", RULES["cheapest_packs"].sentence, WHOLE), count
        paid = half_up(price, digits)
        price_of = f"price of packs{of}" if of else "price"
        yield Bought(name, price_of, RULES["price_of_packs"].sentence, digits), paid
    shipping = half_up(bought.shipping, digits)
    yield Bought(name, "shipping", RULES["shipping_of_purchase"].sentence, digits), shipping
    left: Any = bought.left_over
    yield Bought(name, f"left over, {unit}", LEFT_OVER, WHOLE), left


def _name(code: str, name: object) -> str:
    return code if name is UNSET else f"{name} ({code})"

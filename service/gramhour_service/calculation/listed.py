"""Orders at listed prices: nothing is solved, each is computed back from the price it names."""

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.flags import (
    above_smaller_break,
    minimum_order_applied,
    next_total_is_lower,
)
from gramhour_service.calculation.job import Channel
from gramhour_service.calculation.price import Priced
from gramhour_service.calculation.settle import Settled, sale_of, settle, unit_price_net


class ListedOrder(NamedTuple):
    """An order at a listed price, as its buyer sees it."""

    quantity: int
    settled: Settled
    unit_price_net: Decimal
    flags: tuple[str, ...]


def listed_orders(
    channel: Channel, prices: Mapping[int, Decimal], breaks: tuple[int, ...], digits: int
) -> dict[int, ListedOrder]:
    """Settle an order of each quantity at its price. Call it within ``costing_arithmetic``.

    ``breaks`` are those quantities that the buyer is shown as such, in rising order. The cost of
    an order is not known here: its profit means nothing.
    """
    settled = {
        quantity: settle(sale_of(channel, quantity, ZERO, ZERO, digits), price)
        for quantity, price in prices.items()
    }
    return {
        quantity: ListedOrder(
            quantity,
            each,
            unit_price_net(each.goods_net, quantity),
            _flags(quantity, each, {n: settled[n] for n in breaks}),
        )
        for quantity, each in settled.items()
    }


def _flags(quantity: int, each: Settled, listed: Mapping[int, Settled]) -> tuple[str, ...]:
    smaller = [other.unit_price for n, other in listed.items() if n < quantity]
    larger = [other.gross for n, other in listed.items() if n > quantity]
    raised = {
        "minimum_order_applied": minimum_order_applied(Priced(each, "given_price", None)),
        "above_smaller_break": above_smaller_break(each.unit_price, smaller),
        "next_total_is_lower": next_total_is_lower(each.gross, larger[0] if larger else None),
    }
    return tuple(name for name, is_raised in raised.items() if is_raised)

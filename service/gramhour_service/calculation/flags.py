"""What a maker should look at twice."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation.price import Priced
from gramhour_service.calculation.rules import rule


@rule
def minimum_order_applied(priced: Priced) -> bool:
    """The goods came below the channel's minimum order, which is charged instead."""
    return priced.settled.minimum_applied


@rule
def postage_pays_for_goods(priced: Priced) -> bool:
    """The aim is met before the goods are paid for, as a rule by the postage: raw price ≤ 0."""
    return priced.raw_price is not None and priced.raw_price <= 0


@rule
def below_margin_floor(priced: Priced, floor_pct: Decimal | None) -> bool:
    """The margin, unrounded, is below the channel's floor; a net of 0 has no margin."""
    profit, net = priced.settled.profit, priced.settled.net
    return floor_pct is not None and bool(net) and profit * 100 < floor_pct * net


@rule
def below_cost(priced: Priced) -> bool:
    """The order is sold below its cost."""
    return priced.settled.profit < 0


@rule
def above_smaller_break(unit_price: Decimal, smaller: Sequence[Decimal]) -> bool:
    """Some smaller listed break has a lower unit price."""
    return bool(smaller) and min(smaller) < unit_price


@rule
def next_total_is_lower(gross: Decimal, next_gross: Decimal | None) -> bool:
    """The next listed break costs the buyer less in all."""
    return next_gross is not None and next_gross < gross

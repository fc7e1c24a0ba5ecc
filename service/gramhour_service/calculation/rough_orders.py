"""What orders cost beside their making, and what they bring, in binary floats: for a rough look.

It asks the rules, at single units and single amounts, and keeps what they said for all jobs of
the same rates.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple, TypeVar

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.build import NO_BUILD
from gramhour_service.calculation.builds import (
    BuildPlan,
    Order,
    OrderLine,
    ProductBuilds,
)
from gramhour_service.calculation.components import (
    bought_components,
    cost_of_purchases,
    packaging,
    stock_components,
)
from gramhour_service.calculation.costs import CostLines, with_overheads
from gramhour_service.calculation.job import Channel, Job, ShopRates
from gramhour_service.calculation.postage import Postage, postage
from gramhour_service.calculation.settle import sale_of, settle

V = TypeVar("V")
MUCH = Decimal(10) ** 9
"""An amount beside which rounding does not show."""
MOST_KEPT = 1_000
"""Sets of parts, and channels, that are kept at a time."""
MANY = 100_000
"""Units beside which rounding an order does not show."""
LINES = CostLines._fields.index("material_overhead")
"""So many lines bear overheads."""


class Weights(NamedTuple):
    """What an amount of each direct cost line comes to with the overheads on it."""

    feedstock: float
    components: float
    machine: float
    energy: float
    nozzle_wear: float
    labour: float
    scrap: float
    rejects: float
    packaging: float
    design: float


class Bought(NamedTuple):
    """What an order's components and packaging cost."""

    components: float
    packaging: float


class Parcels(NamedTuple):
    """What an order's parcels cost the shop, and what is charged for them."""

    cost: float
    charged: float


class Brings(NamedTuple):
    """What an order brings before its cost: its profit and net by amount, unit and order."""

    once: float
    unit: float
    goods: float
    charged: float
    net_of_goods: float
    net_of_charged: float


class Kept:
    """What orders of any quantity cost beside their making, kept for all jobs of the same rates."""

    def __init__(self) -> None:
        """Keep nothing yet."""
        self._bought: dict[object, dict[int, Bought]] = {}
        self._parcels: dict[object, dict[int, Parcels]] = {}
        self._brings: dict[object, Brings] = {}
        self._weights: dict[ShopRates, Weights] = {}

    def bought(self, job: Job, made: ProductBuilds, quantities: Sequence[int]) -> list[Bought]:
        """Cost components and packaging (from stock too) of orders of several quantities."""
        product = job.product
        needs = (*product.components, None, *product.packaging, None, *job.channel.packing)
        key = (
            product.remade,
            *(
                None if need is None else (need.component.code, need.per_unit, need.per_order)
                for need in needs
            ),
        )
        if key not in self._bought and len(self._bought) >= MOST_KEPT:
            self._bought.clear()
        kept = self._bought.setdefault(key, {})
        return _kept(kept, quantities, lambda quantity: _bought(job, made, quantity))

    def parcels(self, channel: Channel, quantities: Sequence[int]) -> list[Parcels]:
        """Say what parcels of orders cost, and what is charged for them."""
        kept = self._parcels.setdefault(channel.postage, {})
        return _kept(kept, quantities, lambda quantity: _parcels(channel, quantity))

    def brings(self, job: Job) -> Brings:
        """Say what orders bring on a channel."""
        channel = replace(
            job.channel, minimum_order=ZERO, packing=(), postage=(), aim=None, margin_breaks=()
        )
        share, digits = job.product.design_fee.share, job.rates.minor_digits
        key = channel, share, digits
        if key not in self._brings:
            if len(self._brings) >= MOST_KEPT:
                self._brings.clear()
            self._brings[key] = _brings(channel, share, digits)
        return self._brings[key]

    def weights(self, rates: ShopRates) -> Weights:
        """Say what an amount of each direct line comes to with the overheads on it."""
        if rates not in self._weights:
            self._weights[rates] = _weights(rates)
        return self._weights[rates]


def _kept(kept: dict[int, V], quantities: Sequence[int], make: Callable[[int], V]) -> list[V]:
    for quantity in quantities:
        if quantity not in kept:
            kept[quantity] = make(quantity)
    return [kept[quantity] for quantity in quantities]


def _bought(job: Job, made: ProductBuilds, quantity: int) -> Bought:
    plan = nothing_built(made, quantity)
    order = Order((OrderLine(made, quantity),), job.channel, job.rates)
    from_stock, packed_with = packaging(order)
    components = stock_components(plan) + cost_of_purchases(bought_components([plan]))
    return Bought(float(components), float(from_stock + cost_of_purchases(packed_with)))


def _parcels(channel: Channel, quantity: int) -> Parcels:
    sent = postage(channel.postage, quantity)
    return Parcels(float(sent.cost), float(sent.charged))


def nothing_built(made: ProductBuilds, quantity: int) -> BuildPlan:
    """Plan so many units without any build."""
    return BuildPlan(made, quantity, (), 0, NO_BUILD)


def _weights(rates: ShopRates) -> Weights:
    """Draw the overheads on much of each line."""
    return Weights._make(float(with_overheads(_only(n), rates).total / MUCH) for n in range(LINES))


def _only(line: int) -> tuple[Decimal, ...]:
    return tuple(MUCH if n == line else ZERO for n in range(LINES))


def _brings(channel: Channel, share: Decimal, digits: int) -> Brings:
    """Settle some orders that cost nothing."""

    def settled(units: int, price: Decimal, charged: Decimal) -> tuple[Decimal, Decimal]:
        sale = sale_of(channel, units, ZERO, share, digits)
        order = settle(sale._replace(postage=Postage(ZERO, charged)), price)
        return order.profit, order.net

    nothing, many = settled(1, ZERO, ZERO)[0], settled(MANY, ZERO, ZERO)[0]
    goods, charged = settled(1, MUCH, ZERO), settled(1, ZERO, MUCH)
    unit = (many - nothing) / (MANY - 1)
    return Brings(
        once=float(nothing - unit),
        unit=float(unit),
        goods=float((goods[0] - nothing) / MUCH),
        charged=float((charged[0] - nothing) / MUCH),
        net_of_goods=float(goods[1] / MUCH),
        net_of_charged=float(charged[1] / MUCH),
    )

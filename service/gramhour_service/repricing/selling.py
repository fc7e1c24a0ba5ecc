"""How listings are sold on one channel with one policy; what their products share is kept."""

from collections.abc import Hashable
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

import numpy as np

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.builds import Order, OrderLine, ProductBuilds
from gramhour_service.calculation.costs import Packed, packed
from gramhour_service.calculation.feedstock import whole_pack_materials
from gramhour_service.calculation.job import Channel, Job
from gramhour_service.calculation.settle import Sale, sale_of, settle
from gramhour_service.calculation.stretch import counts_at
from gramhour_service.repricing.quantities import MOST_KEPT, Floats, stretches_of
from gramhour_service.repricing.rough import (
    MUCH,
    ROUNDINGS_OF_AN_ORDER,
    ROUNDINGS_OF_COSTS,
    KeptArrays,
    Weights,
    bought_needs,
    nothing_built,
)

MANY = 100_000
"""Units beside which rounding an order does not show."""


class Shape(NamedTuple):
    """What an order's builds, packs and parcels are counted by, and what it is packed in."""

    pieces: tuple[tuple[int, int], ...]
    bought: tuple[Hashable, ...]
    packaging: tuple[Hashable, ...]
    by_whole_packs: bool


def shape_of(made: ProductBuilds) -> Shape:
    """Name what products must have alike to be counted and packed alike."""
    product = made.product
    return Shape(
        pieces=tuple([(piece.count, piece.pieces_per_build) for piece in product.pieces]),
        bought=bought_needs(made),
        packaging=tuple(
            [(need.component.code, need.per_unit, need.per_order) for need in product.packaging]
        ),
        by_whole_packs=bool(whole_pack_materials([nothing_built(made, 0)])),
    )


class Brings(NamedTuple):
    """What an order brings before its cost: its profit and net by amount, unit and order."""

    once: float
    unit: float
    goods: float
    charged: float
    net_of_goods: float
    net_of_charged: float


class Takings(NamedTuple):
    """What orders of all quantities bring at least, whatever their goods are; of goods, a share."""

    sent: Floats
    goods: float
    net_of_sent: Floats
    net_of_goods: float


class Selling:
    """A channel and a policy: of what quantities, for what aim. Nothing in it but caches."""

    def __init__(self, job: Job, multiple: int, weights: Weights) -> None:
        """Sell as a job has it, whatever its product is."""
        self.job, self._weights = job, weights
        self.stretches = stretches_of(job.breaks, multiple)
        self._arrays = KeptArrays()
        self._packed: dict[tuple[Hashable, int], Packed] = {}
        self._sales: dict[tuple[Decimal, int], Sale] = {}
        self._takings: dict[Decimal, Takings] = {}
        self._counts: dict[tuple[Shape, int], bool] = {}

    def packed(self, made: ProductBuilds, shape: Shape, quantity: int) -> Packed:
        """Pack an order of a product."""
        key = shape.packaging, quantity
        if key not in self._packed:
            if len(self._packed) >= MOST_KEPT:
                self._packed.clear()
            self._packed[key] = packed(self._order(made, quantity))
        return self._packed[key]

    def sale(self, share: Decimal, quantity: int, cost: Decimal) -> Sale:
        """Sell so many units that cost so much, with the designer's share."""
        key = share, quantity
        if key not in self._sales:
            if len(self._sales) >= MOST_KEPT:
                self._sales.clear()
            digits = self.job.rates.minor_digits
            self._sales[key] = sale_of(self.job.channel, quantity, ZERO, share, digits)
        return self._sales[key]._replace(cost=cost)

    def counts(self, made: ProductBuilds, shape: Shape, place: int) -> bool:
        """Say whether the quantity at a place is looked at.

        It is if it is an end of its stretch, or a number of builds, packs or parcels or the
        margin break is another than at the one before.
        """
        key = shape, place
        if key not in self._counts:
            if len(self._counts) >= MOST_KEPT:
                self._counts.clear()
            self._counts[key] = self._counts_at(made, place)
        return self._counts[key]

    def _counts_at(self, made: ProductBuilds, place: int) -> bool:
        if any(place in (span[0], span[-1]) for span in self.stretches.spans):
            return True
        before, now = self.stretches.quantities[place - 1 : place + 1]
        job = replace(self.job, product=made.product)
        return counts_at(job, made, before) != counts_at(job, made, now)

    def margins(self, made: ProductBuilds, shape: Shape, costs: Floats, prices: Floats) -> Floats:
        """Estimate what the margins (of one) are at least, at shown prices of each quantity.

        ``costs`` are those of orders but for their packaging. Nothing is known where whole packs
        of filament are bought.
        """
        if shape.by_whole_packs:
            return np.full(prices.shape, -np.inf)
        takings, unit = self._takings_of(made.product.design_fee.share), self._minor_unit
        goods = np.maximum(prices * self.stretches.numbers, float(self.job.channel.minimum_order))
        spent = costs + self._weights.packaging * self._packing(made, shape)
        profit = takings.goods * goods + (takings.sent - spent)
        net = takings.net_of_goods * goods + takings.net_of_sent
        return profit / np.where(profit > 0, net + unit, np.maximum(net - unit, unit))

    @property
    def _minor_unit(self) -> float:
        return 10.0**-self.job.rates.minor_digits

    def _packing(self, made: ProductBuilds, shape: Shape) -> Floats:
        """Cost what orders are packed in."""
        quantities = self.stretches.quantities
        return self._arrays.of(
            ("packing", shape.packaging),
            lambda: np.array(
                [float(self.packed(made, shape, quantity).line) for quantity in quantities]
            ),
        )

    def _takings_of(self, share: Decimal) -> Takings:
        if share not in self._takings:
            self._takings[share] = self._takings_with(share)
        return self._takings[share]

    def _takings_with(self, share: Decimal) -> Takings:
        each = brings(self.job.channel, share, self.job.rates.minor_digits)
        rounding = ROUNDINGS_OF_AN_ORDER * self._minor_unit
        rounding += ROUNDINGS_OF_COSTS * max(self._weights)
        parcels = [
            self.sale(ZERO, quantity, ZERO).postage for quantity in self.stretches.quantities
        ]
        charged = np.array([float(parcel.charged) for parcel in parcels])
        cost = np.array([float(parcel.cost) for parcel in parcels])
        once = each.once - rounding + each.unit * self.stretches.numbers
        sent = once + each.charged * charged - cost
        return Takings(sent, each.goods, each.net_of_charged * charged, each.net_of_goods)

    def _order(self, made: ProductBuilds, quantity: int) -> Order:
        return Order((OrderLine(made, quantity),), self.job.channel, self.job.rates)


def brings(channel: Channel, share: Decimal, digits: int) -> Brings:
    """Settle some orders that cost nothing, without a least order and parcels."""
    plain = replace(channel, minimum_order=ZERO, postage=())

    def settled(units: int, price: Decimal, charged: Decimal) -> tuple[Decimal, Decimal]:
        sale = sale_of(plain, units, ZERO, share, digits)
        order = settle(sale._replace(charged=charged), price)
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

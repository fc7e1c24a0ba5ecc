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
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.settle import Sale, sale_of, settle
from gramhour_service.calculation.stretch import counts_at
from gramhour_service.repricing.quantities import Floats, stretches_of
from gramhour_service.repricing.rough import (
    MUCH,
    ROUNDINGS_OF_AN_ORDER,
    ROUNDINGS_OF_COSTS,
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
        self._packing = LastMade[Hashable, Floats]()
        self._packed = LastMade[tuple[Hashable, int], Packed]()
        self._sales = LastMade[tuple[Decimal, int], Sale]()
        self._takings = LastMade[Decimal, Takings]()
        self._counts = LastMade[tuple[Shape, int], bool]()

    def packed(self, made: ProductBuilds, shape: Shape, quantity: int) -> Packed:
        """Pack an order of a product."""
        return self._packed.of(
            (shape.packaging, quantity), lambda: packed(self._order(made, quantity))
        )

    def sale(self, share: Decimal, quantity: int, cost: Decimal) -> Sale:
        """Sell so many units that cost so much, with the designer's share."""
        channel, digits = self.job.channel, self.job.rates.minor_digits
        sale = self._sales.of(
            (share, quantity), lambda: sale_of(channel, quantity, ZERO, share, digits)
        )
        return sale._replace(cost=cost)

    def counts(self, made: ProductBuilds, shape: Shape, place: int) -> bool:
        """Say whether the quantity at a place is looked at.

        It is if it is an end of its stretch, or a number of builds, packs or parcels or the
        margin break is another than at the one before or the one after.
        """
        return self._counts.of((shape, place), lambda: self._counts_at(made, place))

    def _counts_at(self, made: ProductBuilds, place: int) -> bool:
        if any(place in (span[0], span[-1]) for span in self.stretches.spans):
            return True
        job = replace(self.job, product=made.product)
        before, now, after = (
            counts_at(job, made, q) for q in self.stretches.quantities[place - 1 : place + 2]
        )
        return before != now or now != after

    def margins(self, made: ProductBuilds, shape: Shape, costs: Floats, prices: Floats) -> Floats:
        """Estimate what the margins (of one) are at least, at shown prices of each quantity.

        ``costs`` are those of orders but for their packaging. Nothing is known where whole packs
        of filament are bought.
        """
        if shape.by_whole_packs:
            return np.full(prices.shape, -np.inf)
        share, unit = made.product.design_fee.share, self._minor_unit
        takings = self._takings.of(share, lambda: self._takings_with(share))
        goods = np.maximum(prices * self.stretches.numbers, float(self.job.channel.minimum_order))
        packing = self._packing.of(shape.packaging, lambda: self._packing_of(made, shape))
        spent = costs + self._weights.packaging * packing
        profit = takings.goods * goods + (takings.sent - spent)
        net = takings.net_of_goods * goods + takings.net_of_sent
        return profit / np.where(profit > 0, net + unit, np.maximum(net - unit, unit))

    @property
    def _minor_unit(self) -> float:
        return 10.0**-self.job.rates.minor_digits

    def _packing_of(self, made: ProductBuilds, shape: Shape) -> Floats:
        """Cost what orders are packed in."""
        quantities = self.stretches.quantities
        return self.stretches.each([float(self.packed(made, shape, q).line) for q in quantities])

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

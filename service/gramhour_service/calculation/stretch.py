"""A listed price over the quantities that it holds for: from its break up to the next one."""

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.aim import margin_break
from gramhour_service.calculation.breaks import costs_at, settled_at
from gramhour_service.calculation.build import NO_BUILD
from gramhour_service.calculation.builds import (
    BuildPlan,
    Order,
    OrderLine,
    ProductBuilds,
    pieces_needed,
)
from gramhour_service.calculation.components import bought_components, packaging
from gramhour_service.calculation.costs import DirectCosts
from gramhour_service.calculation.feedstock import whole_pack_materials
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.postage import parcels
from gramhour_service.calculation.rough import RoughCurve

MOST_LOOKED_AT = 1_000
"""Quantities of one stretch; of a longer one the first so many, and its end."""
LEAST_LENGTH = 10
MOST_KEPT = 50
"""Quantities of a product whose costs are kept for its other channels."""


class Least(NamedTuple):
    """The least margin over a stretch: at which quantity, and that order's profit and net."""

    quantity: int
    profit: Decimal
    net: Decimal


def stretch_of(quantity: int, following: int | None, multiple: int) -> range:
    """List what a listed price holds for: from its break up to the next one.

    The last is looked at up to double, over ten units at least; only what the channel sells is.
    """
    beyond = max(2 * quantity, quantity + LEAST_LENGTH) if following is None else following
    return range(quantity, beyond, multiple)


class Stretch:
    """The quantities of a job that one listed price holds for, each costed when it is needed."""

    def __init__(
        self,
        job: Job,
        made: ProductBuilds,
        quantities: range,
        rough: RoughCurve,
        kept: dict[int, DirectCosts],
        cost: Decimal,
    ) -> None:
        """Look at ``quantities`` of a job whose builds are ``made``; the first one's cost is known.

        ``kept`` has what units cost that were costed before, and gets some more.
        """
        self._job, self._made, self._kept = job, made, kept
        self._looked_at = [*quantities[:-1][:MOST_LOOKED_AT], quantities[-1]]
        self._rough = rough.over(job, self._looked_at)
        self._costs = {quantities[0]: cost}

    def least_margin(self, price_at: Callable[[int], Decimal]) -> Least | None:
        """Find the least margin of shown prices, None where nothing is paid at any quantity.

        Looked at are both ends and every quantity at which a number of builds, packs or parcels
        or the margin break is another than at the one before. Where a rough look says that it
        cannot be the least, nothing is computed.
        """
        prices = [price_at(quantity) for quantity in self._looked_at]
        at_least = self._possibly(prices)
        least: Least | None = None
        for place in sorted(range(len(at_least)), key=at_least.__getitem__):
            if least is not None and at_least[place] > float(least.profit / least.net):
                break
            if self._counts(place):
                least = _lesser(least, self._settled(self._looked_at[place], prices[place]))
        return least

    def _possibly(self, prices: Sequence[Decimal]) -> Sequence[float]:
        """Say what the margins are at least; nothing is known where whole packs are bought."""
        if whole_pack_materials([BuildPlan(self._made, 0, (), 0, NO_BUILD)]):
            return [-math.inf] * len(self._looked_at)
        return self._rough.margins(prices)

    def _settled(self, quantity: int, unit_price: Decimal) -> Least:
        cost = self._costs.get(quantity)
        if cost is None:
            kept = self._kept if len(self._kept) < MOST_KEPT else None
            cost = costs_at(self._job, self._made, quantity, kept).lines.total
            self._costs[quantity] = cost
        settled = settled_at(self._job, quantity, cost, unit_price)
        return Least(quantity, settled.profit, settled.net)

    def _counts(self, place: int) -> bool:
        """Say whether a quantity is an end, or something is another than at the one before."""
        if place in (0, len(self._looked_at) - 1):
            return True
        before, now = self._looked_at[place - 1 : place + 1]
        return counts_at(self._job, self._made, before) != counts_at(self._job, self._made, now)


def _lesser(least: Least | None, other: Least) -> Least | None:
    """Take the one with the lower margin; of equal ones that of the smaller quantity."""
    if not other.net:
        return least
    if least is None:
        return other
    difference = other.profit * least.net - least.profit * other.net
    is_less = difference < 0 or (not difference and other.quantity < least.quantity)
    return other if is_less else least


def counts_at(job: Job, made: ProductBuilds, quantity: int) -> tuple[object, ...]:
    """Count the builds, packs and parcels of an order, with its margin break.

    An order that buys filament in whole packs counts as another at every quantity.
    """
    plan = BuildPlan(made, quantity, (), 0, NO_BUILD)
    order = Order((OrderLine(made, quantity),), job.channel, job.rates)
    bought = (*bought_components([plan]), *packaging(order)[1])
    return (
        tuple(
            -(-pieces_needed(quantity, piece.count) // piece.pieces_per_build)
            for piece in job.product.pieces
        ),
        tuple(each.packs for each in bought),
        parcels(job.channel.postage, quantity),
        margin_break(job.channel.margin_breaks, quantity),
        quantity if whole_pack_materials([plan]) else None,
    )

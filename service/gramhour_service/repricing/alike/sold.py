"""Products that are made alike and sold alike: what orders of each cost and bring, all at once."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import numpy as np

from gramhour_service.calculation import job
from gramhour_service.calculation.aim import aim_at
from gramhour_service.calculation.builds import OrderLine
from gramhour_service.calculation.costs import DirectCosts
from gramhour_service.calculation.settle import Sale, Settled
from gramhour_service.repricing.alike.calculating import bound
from gramhour_service.repricing.alike.many import Doubts, Many, Number, Places, column, known
from gramhour_service.repricing.alike.products import standing_for
from gramhour_service.repricing.evaluating import Makings
from gramhour_service.repricing.quantities import Floats
from gramhour_service.repricing.rough import RoughCosts
from gramhour_service.repricing.selling import Selling, shape_of

ROWS = 128
"""So many listings' margins at a time fit into a core's own memory."""


class MadeAlike:
    """Products that are made alike, as one that stands for all. Nothing in it but caches."""

    def __init__(self, products: Sequence[job.Product], makings: Makings, dtype: Any) -> None:
        """Work out their builds, in floats of a kind."""
        self.doubts, self.dtype = Doubts(len(products)), dtype
        shop = makings.shop()
        stands = standing_for(products, lambda values: column(values, dtype, self.doubts))
        self.builds = bound.builds_of_product(stands, shop)
        self.shape = shape_of(self.builds)
        self.rough = RoughCosts(self.builds, makings.shared(shop), bound.part_build)
        self._direct: dict[int, DirectCosts] = {}

    def direct(self, quantity: int) -> DirectCosts:
        """Cost so many units of each but for their packaging."""
        direct = self._direct.get(quantity)
        if direct is None:
            line = OrderLine(self.builds, quantity)
            direct = bound.direct_costs((line,), self.builds.rates)
            self._direct[quantity] = direct
        return direct


class SoldAlike:
    """Listings that sell with one policy what is made alike; ``places`` say which of it."""

    def __init__(self, selling: Selling, made: MadeAlike, places: Places) -> None:
        """Sell what is made. Call all of it within ``costing_arithmetic``."""
        self.selling, self.made, self.places = selling, made, places
        self.doubts = Doubts(len(places))
        self._costs: dict[int, Many] = {}

    def cost(self, quantity: int) -> Many:
        """Cost so many units of each, all of them together."""
        cost = self._costs.get(quantity)
        if cost is None:
            builds, rates = self.made.builds, self.selling.job.rates
            packing = self.selling.packed(builds, self.made.shape, quantity)
            total = bound.lines_of_order(self.made.direct(quantity), packing, rates).total
            cost = self._costs[quantity] = self._of_each(total)
        return cost

    def _of_each(self, number: Number) -> Many:
        if isinstance(number, Many):
            return number.taken(self.places, self.doubts)
        return spread(number, self.made.dtype, self.doubts)

    def sale(self, quantity: int, cost: Many) -> Sale:
        """Sell so many units that cost so much."""
        share = self.made.builds.product.design_fee.share
        return self.selling.sale(share, quantity, cost)  # type: ignore[arg-type]

    def priced(self, quantity: int) -> Settled:
        """Price so many units. Raises ``CannotBePriced`` if no price reaches the aim."""
        asked = self.selling.job
        aim = aim_at(asked.aim, asked.channel, quantity)
        sale = self.sale(quantity, self.cost(quantity))
        settled: Settled = bound.solve(sale, aim, asked.discount_share).settled
        return settled

    def settled(self, quantity: int, unit_price: Many) -> Settled:
        """Compute so many units back from a unit price of each."""
        settled: Settled = bound.settle(self.sale(quantity, self.cost(quantity)), unit_price)
        return settled

    def margins(self, unit_prices: Sequence[Many]) -> Floats:
        """Say what the margin of each, in a row, is at least at each quantity."""
        stretches, made = self.selling.stretches, self.made
        costs = made.rough.over(stretches)
        prices = np.stack([price.x.astype(np.float64) for price in unit_prices], axis=1)
        lengths = [len(span) for span in stretches.spans]
        margins = np.empty((len(self.places), len(stretches.quantities)))
        for first in range(0, len(margins), ROWS):
            rows = slice(first, first + ROWS)
            margins[rows] = self.selling.margins(
                made.builds,
                made.shape,
                costs[self.places[rows]] if costs.ndim > 1 else costs,
                np.repeat(prices[rows], lengths, axis=1),
            )
        return margins

    def in_doubt(self) -> Any:
        """Say for which listings something was left open."""
        return self.doubts.mask | self.made.doubts.mask[self.places]


def spread(number: Number, dtype: Any, doubts: Doubts) -> Many:
    """Give each the same number."""
    if isinstance(number, Many):
        return number
    one = known(number, dtype)
    return Many(np.full(len(doubts.mask), one.x), one.off, one.top, one.places, doubts)


def decimals(number: Number, places: int, size: int) -> list[Decimal]:
    """Tell rounded numbers as decimals, one for each of so many."""
    if not isinstance(number, Many):
        return [Decimal(number)] * size
    last = -places
    return [Decimal(whole).scaleb(last) for whole in number.whole(places).tolist()]

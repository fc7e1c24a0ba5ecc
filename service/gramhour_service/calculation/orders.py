"""Orders of one product on one channel: what a quantity costs and takes, worked out once."""

from collections.abc import Hashable
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from gramhour_service.calculation.builds import Order, OrderLine, ProductBuilds, builds_of_product
from gramhour_service.calculation.costs import Costs, costs_of_order
from gramhour_service.calculation.job import Aim, Channel, Product, ShopRates
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.settle import Sale, sale_of, unit_cost
from gramhour_service.calculation.use import Use, use_of_order

if TYPE_CHECKING:
    from gramhour_service.calculation.breaks import Break

MOST_QUANTITIES = 48
"""Orders that are kept of one product, half of them surely: far more than a page shows, few enough
for many products."""


class Ordered(NamedTuple):
    """So many units as they are ordered, whatever they are to be sold for."""

    quantity: int
    costs: Costs
    use: Use
    unit_cost: Decimal
    sale: Sale


class Orders:
    """Orders of a product on a channel. Nothing in it but caches; what was asked last is kept.

    ``priced`` has them by quantity, aim and discount; ``told`` what others made of them, by words
    of their own. Call it within ``costing_arithmetic``.
    """

    __slots__ = ("_channel", "_made", "_ordered", "_product", "_rates", "priced", "told")

    def __init__(self, product: Product, channel: Channel, rates: ShopRates) -> None:
        """Make and sell the product at these rates."""
        self._product, self._channel, self._rates = product, channel, rates
        self._made: ProductBuilds | None = None
        self._ordered = LastMade[int, Ordered](MOST_QUANTITIES)
        self.priced: LastMade[tuple[int, Aim | None, Decimal], Break] = LastMade(MOST_QUANTITIES)
        self.told = LastMade[Hashable, Any](MOST_QUANTITIES)

    def of(self, quantity: int) -> Ordered:
        """Cost so many units. Raises ``CannotBePriced`` if an amount reaches 10^15."""
        return self._ordered.of(quantity, lambda: self._cost(quantity))

    def _cost(self, quantity: int) -> Ordered:
        if self._made is None:
            self._made = builds_of_product(self._product, self._rates)
        return ordered_of(self._made, self._channel, quantity)


def ordered_of(made: ProductBuilds, channel: Channel, quantity: int) -> Ordered:
    """Cost so many units of a product; ``made`` are its builds, shared by all quantities.

    Raises ``CannotBePriced`` if an amount reaches 10^15.
    """
    rates, share = made.rates, made.product.design_fee.share
    costs = costs_of_order(Order((OrderLine(made, quantity),), channel, rates))
    cost = costs.lines.total
    return Ordered(
        quantity=quantity,
        costs=costs,
        use=use_of_order(costs.plans, costs.minutes),
        unit_cost=unit_cost(cost, quantity),
        sale=sale_of(channel, quantity, cost, share, rates.minor_digits),
    )

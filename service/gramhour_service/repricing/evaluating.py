"""One listing evaluated by one sheet: its unit cost and price at each of its breaks."""

from decimal import Decimal
from typing import NamedTuple

from gramhour.contract.listing import Listing
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.product import Product
from gramhour_service.calculation.arithmetic import CannotBePriced
from gramhour_service.calculation.breaks import costs_at, price_at
from gramhour_service.calculation.builds import ProductBuilds, builds_of_product
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.price import Priced
from gramhour_service.calculation.settle import unit_cost
from gramhour_service.listings.asked import asked_by
from gramhour_service.listings.variants import rates_used
from gramhour_service.repricing.target import Target, has_all
from gramhour_service.resolve.request import resolve


class Offered(NamedTuple):
    """What is listed: a sku's policy, and the product in the filaments of its variant."""

    sku: str
    listing: Listing
    product: Product


class Figures(NamedTuple):
    """A quantity costed and priced: a unit's cost and its shown price."""

    unit_cost: Decimal
    unit_price: Decimal

    def minus(self, other: "Figures") -> "Figures":
        """Say by how much both differ."""
        return Figures(self.unit_cost - other.unit_cost, self.unit_price - other.unit_price)

    def plus(self, other: "Figures") -> "Figures":
        """Add both up."""
        return Figures(self.unit_cost + other.unit_cost, self.unit_price + other.unit_price)


NOTHING = Figures(Decimal(0), Decimal(0))


class Evaluated(NamedTuple):
    """A quantity costed and priced."""

    quantity: int
    cost: Decimal
    priced: Priced

    @property
    def figures(self) -> Figures:
        """The cost and the price of a unit."""
        return Figures(unit_cost(self.cost, self.quantity), self.priced.settled.unit_price)


def can_price(offered: Offered, target: Target) -> bool:
    """Say whether a sheet has all that a listing needs."""
    return has_all(target.sheet, rates_used(offered.product), offered.listing.channel)


def job_of(offered: Offered, target: Target) -> Job:
    """Resolve a listing by the rates of a target. Call it within ``costing_arithmetic``.

    Raises ``Refused`` with every fault found.
    """
    asked = asked_by(offered.listing, offered.product, target.sheet, target.discount_pct)
    return resolve(asked, target.sheet, kept=target.kept).job


def evaluated(job: Job, made: ProductBuilds, quantity: int) -> Evaluated:
    """Cost and price a quantity. Raises ``Refused`` if no price reaches the aim."""
    try:
        cost = costs_at(job, made, quantity).lines.total
        return Evaluated(quantity, cost, price_at(job, quantity, cost))
    except CannotBePriced as error:
        raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None


def figures_by(offered: Offered, target: Target, quantities: list[int]) -> list[Figures]:
    """Cost and price quantities by the rates of a target.

    Raises ``Refused`` with every fault found.
    """
    job = job_of(offered, target)
    made = builds_of_product(job.product, job.rates)
    return [evaluated(job, made, quantity).figures for quantity in quantities]

"""One listing evaluated by one sheet: its unit cost and price at each of its breaks."""

from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.listing import Listing
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.product import Product
from gramhour_service.calculation import job
from gramhour_service.calculation.arithmetic import CannotBePriced
from gramhour_service.calculation.breaks import costs_at, price_at
from gramhour_service.calculation.builds import ProductBuilds, builds_of_product
from gramhour_service.calculation.costs import DirectCosts
from gramhour_service.calculation.price import Priced
from gramhour_service.calculation.rough import RoughCurve
from gramhour_service.calculation.rough_orders import Kept
from gramhour_service.calculation.settle import unit_cost
from gramhour_service.listings.asked import asked_by, variant_listed
from gramhour_service.listings.variants import rates_used
from gramhour_service.repricing.target import Target, has_all
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.product import resolve_product
from gramhour_service.resolve.rates import Rates
from gramhour_service.resolve.request import resolve

MOST_KEPT = 1_000
NO_PRODUCT = Product()


class Offered(NamedTuple):
    """What is listed: a sku's policy, and the product in the filaments of its variant.

    ``version`` is that of the product.
    """

    sku: str
    listing: Listing
    product: Product
    version: int


class Making(NamedTuple):
    """A product resolved, its builds, a rough look at what they cost, and what units cost."""

    product: job.Product
    builds: ProductBuilds
    rough: RoughCurve
    costs: dict[int, DirectCosts]


class Makings:
    """What products take to make by the rates of a target; the last ones are kept.

    Listings of one product on several channels take the same.
    """

    def __init__(self, target: Target) -> None:
        """Resolve by the rates of ``target``."""
        self.target, self.kept = target, Kept()
        self._last: dict[tuple[str, int, str], Making] = {}
        self._sold: dict[object, job.Job] = {}

    def of(self, offered: Offered) -> Making:
        """Find what a listed product takes. Raises ``Refused`` with every fault found."""
        listing = offered.listing
        key = listing.product, offered.version, variant_listed(listing)
        if key not in self._last:
            if len(self._last) >= MOST_KEPT:
                self._last.clear()
            self._last[key] = making_of(offered, self.target, self.kept)
        return self._last[key]

    def sold(self, offered: Offered) -> job.Job:
        """Resolve how a listing is sold, with its product. Raises ``Refused``."""
        making, listing = self.of(offered), offered.listing
        breaks = None if listing.breaks is UNSET else tuple(listing.breaks)
        key = listing.channel, listing.aim, breaks
        if key not in self._sold:
            if len(self._sold) >= MOST_KEPT:
                self._sold.clear()
            self._sold[key] = job_of(offered, self.target, making)
        return replace(self._sold[key], product=making.product)


def making_of(offered: Offered, target: Target, kept: Kept) -> Making:
    """Resolve a listed product and work out its builds.

    Raises ``Refused`` with every fault found.
    """
    notes = Notes(explain=False)
    rates = Rates(target.sheet, notes, kept=target.kept)
    product = resolve_product(Members(offered.product, ("product",), notes), rates)
    if notes.faults:
        raise Refused("invalid-request", tuple(notes.faults))
    builds = builds_of_product(product, rates.shop())
    return Making(product, builds, RoughCurve(builds, kept), {})


class Figures(NamedTuple):
    """A quantity costed and priced: a unit's cost and its shown price."""

    unit_cost: Decimal
    unit_price: Decimal

    def minus(self, other: "Figures") -> "Figures":
        """Say by how much both differ."""
        return Figures(self.unit_cost - other.unit_cost, self.unit_price - other.unit_price)


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


def job_of(offered: Offered, target: Target, making: Making) -> job.Job:
    """Resolve a listing's policy by the rates of a target. Call it within ``costing_arithmetic``.

    Raises ``Refused`` with every fault found.
    """
    asked = asked_by(offered.listing, NO_PRODUCT, target.sheet, target.discount_pct)
    return replace(resolve(asked, target.sheet, kept=target.kept).job, product=making.product)


def evaluated(sold: job.Job, making: Making, quantity: int) -> Evaluated:
    """Cost and price a quantity. Raises ``Refused`` if no price reaches the aim."""
    try:
        cost = costs_at(sold, making.builds, quantity, making.costs).lines.total
        return Evaluated(quantity, cost, price_at(sold, quantity, cost))
    except CannotBePriced as error:
        raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None


def figures_by(offered: Offered, target: Target, quantities: list[int]) -> list[Figures]:
    """Cost and price quantities by the rates of a target.

    Raises ``Refused`` with every fault found.
    """
    making = making_of(offered, target, Kept())
    sold = job_of(offered, target, making)
    return [evaluated(sold, making, quantity).figures for quantity in quantities]

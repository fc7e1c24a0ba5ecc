"""One listing evaluated by one sheet: its unit cost and price at each of its breaks."""

from collections.abc import Hashable
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.listing import Listing
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.product import Product
from gramhour_service.calculation import job
from gramhour_service.calculation.arithmetic import CannotBePriced
from gramhour_service.calculation.breaks import price_of
from gramhour_service.calculation.builds import OrderLine, ProductBuilds, builds_of_product
from gramhour_service.calculation.costs import DirectCosts, direct_costs, lines_of_order
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.settle import Sale, Settled, settle, unit_cost
from gramhour_service.listings.asked import asked_by, multiple_sold, variant_listed
from gramhour_service.repricing.rough import RoughCosts, Shared, shared_by
from gramhour_service.repricing.selling import Selling, Shape, shape_of
from gramhour_service.repricing.target import Target, has_all, rates_that_differ
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.other_filaments import in_other_filaments
from gramhour_service.resolve.product import resolve_product
from gramhour_service.resolve.rates import Rates
from gramhour_service.resolve.request import resolve
from gramhour_service.store.rates import Key

MOST_QUANTITIES_KEPT = 50
MOST_PRODUCTS_KEPT = 5_000
"""More than a chunk of listings has, since several sheets take them from one."""
NO_PRODUCT = Product()


class Offered(NamedTuple):
    """What is listed: a sku's policy, and the product in the filaments of its variant.

    ``uses`` are the rates of the product, ``version`` is its own.
    """

    sku: str
    listing: Listing
    product: Product
    uses: frozenset[Key]
    version: int


class Making(NamedTuple):
    """A product resolved, its builds and shape, a rough look at costs, and what units cost."""

    product: job.Product
    builds: ProductBuilds
    shape: Shape
    rough: RoughCosts
    direct: dict[int, DirectCosts]


class Figures(NamedTuple):
    """A quantity costed and priced: a unit's cost and its shown price."""

    unit_cost: Decimal
    unit_price: Decimal

    def minus(self, other: "Figures") -> "Figures":
        """Say by how much both differ."""
        return Figures(self.unit_cost - other.unit_cost, self.unit_price - other.unit_price)


NOTHING = Figures(Decimal(0), Decimal(0))


class Sold:
    """A product as it is sold on a channel: what orders of it cost and bring, each once."""

    def __init__(self, selling: Selling, making: Making) -> None:
        """Sell what is made. Call all of it within ``costing_arithmetic``."""
        self.selling, self.making = selling, making
        self._costs: dict[int, Decimal] = {}
        self._sales: dict[int, Sale] = {}
        self._settled: dict[tuple[int, Decimal], Settled] = {}

    def cost(self, quantity: int) -> Decimal:
        """Cost so many units, all of them together."""
        cost = self._costs.get(quantity)
        if cost is None:
            rates, making = self.selling.job.rates, self.making
            packing = self.selling.packed(making.builds, making.shape, quantity)
            cost = lines_of_order(self._direct(quantity), packing, rates).total
            self._costs[quantity] = cost
        return cost

    def _direct(self, quantity: int) -> DirectCosts:
        """Cost units but for their packaging; some are kept for the product's other channels."""
        kept = self.making.direct
        direct = kept.get(quantity)
        if direct is None:
            line = OrderLine(self.making.builds, quantity)
            direct = direct_costs((line,), self.selling.job.rates)
            if len(kept) < MOST_QUANTITIES_KEPT:
                kept[quantity] = direct
        return direct

    def priced(self, quantity: int) -> Settled:
        """Price so many units. Raises ``Refused`` if no price reaches the aim."""
        try:
            settled = price_of(self.selling.job, self._sale(quantity)).settled
        except CannotBePriced as error:
            raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None
        self._settled[quantity, settled.unit_price] = settled
        return settled

    def settled(self, quantity: int, unit_price: Decimal) -> Settled:
        """Compute so many units back from a unit price."""
        key = quantity, unit_price
        settled = self._settled.get(key)
        if settled is None:
            settled = self._settled[key] = settle(self._sale(quantity), unit_price)
        return settled

    def figures(self, quantity: int) -> Figures:
        """Cost and price a unit of so many. Raises ``Refused`` if no price reaches the aim."""
        unit_price = self.priced(quantity).unit_price
        return Figures(unit_cost(self.cost(quantity), quantity), unit_price)

    def _sale(self, quantity: int) -> Sale:
        sale = self._sales.get(quantity)
        if sale is None:
            share = self.making.product.design_fee.share
            sale = self.selling.sale(share, quantity, self.cost(quantity))
            self._sales[quantity] = sale
        return sale


def made_as(offered: Offered) -> tuple[str, int, str]:
    """Name what listings must have alike to be made alike: the product, its version, a variant."""
    listing = offered.listing
    return listing.product, offered.version, variant_listed(listing)


class Makings:
    """What products take to make, and how they are sold, by the rates of a target.

    The last ones are kept: listings of one product on several channels take the same. Call it
    within ``costing_arithmetic``.
    """

    def __init__(self, target: Target, near: "Makings | None" = None) -> None:
        """Resolve by the rates of ``target``; a product all of whose rates
        ``near`` has alike is that one's.
        """
        self.target, self._near = target, near
        self._differing = (
            frozenset[Key]() if near is None else rates_that_differ(near.target.sheet, target.sheet)
        )
        self._shared: Shared | None = None
        self._known = self._rates()
        self._in_some_filaments = LastMade[tuple[str, int], job.Product]()
        self._products = LastMade[tuple[str, int, str], job.Product](MOST_PRODUCTS_KEPT)
        self._making = LastMade[tuple[str, int, str], Making]()
        self._can_price = LastMade[tuple[frozenset[Key], str], bool]()
        self.noted: dict[tuple[str, tuple[int, ...]], list[Figures]] = {}
        """Figures of skus at some quantities that were worked out for many at once."""
        self._selling = LastMade[Hashable, Selling]()

    def sold(self, offered: Offered) -> Sold:
        """Resolve a listing and its product. Raises ``Refused`` with every fault found."""
        making = self._making.of(made_as(offered), lambda: self._made(offered))
        return Sold(self.selling(offered.listing), making)

    def can_price(self, offered: Offered) -> bool:
        """Say whether the rates have all that a listing needs."""
        named = offered.uses, offered.listing.channel
        can = self._can_price.found(named)
        if can is None:
            can = has_all(self.target.sheet, *named)
            self._can_price.keep(named, can)
        return can

    def selling(self, listing: Listing) -> Selling:
        """Resolve a listing's policy. Raises ``Refused`` with every fault found."""
        breaks = None if listing.breaks is UNSET else tuple(listing.breaks)
        policy = listing.channel, listing.aim, breaks
        return self._selling.of(policy, lambda: self._sells(listing))

    def product(self, offered: Offered) -> job.Product:
        """Resolve a product. Raises ``Refused`` with every fault found."""
        if self._near is not None and self._differing.isdisjoint(offered.uses):
            return self._near.product(offered)
        return self._products.of(made_as(offered), lambda: self._resolved(offered))

    def shop(self) -> job.ShopRates:
        """Resolve what holds for the whole shop."""
        return self._known.shop()

    def _resolved(self, offered: Offered) -> job.Product:
        """Resolve a product, from what it is in other filaments if that will do."""
        name = offered.listing.product, offered.version
        before = self._in_some_filaments.found(name)
        if before is not None:
            swapped = in_other_filaments(before, offered.product, self._known)
            if swapped is not None:
                return swapped
        product = self._resolve(offered.product)
        self._in_some_filaments.keep(name, product)
        return product

    def _resolve(self, product: Product) -> job.Product:
        rates = self._rates()
        resolved = resolve_product(Members(product, ("product",), rates.notes), rates)
        if rates.notes.faults:
            raise Refused("invalid-request", tuple(rates.notes.faults))
        return resolved

    def _rates(self) -> Rates:
        notes = Notes(explain=False, asks_basis=False)
        return Rates(self.target.sheet, notes, kept=self.target.kept)

    def _made(self, offered: Offered) -> Making:
        """Work out a product's builds."""
        product, shop = self.product(offered), self.shop()
        builds = builds_of_product(product, shop)
        rough = RoughCosts(builds, self.shared(shop))
        return Making(product, builds, shape_of(builds), rough, {})

    def _sells(self, listing: Listing) -> Selling:
        """Resolve a listing's policy."""
        target = self.target
        asked = asked_by(listing, NO_PRODUCT, target.sheet, target.discount_pct)
        policy = resolve(asked, target.sheet, kept=target.kept).job
        multiple = multiple_sold(target.sheet, listing.channel)
        return Selling(policy, multiple, self.shared(policy.rates).weights)

    def shared(self, shop: job.ShopRates) -> Shared:
        """Find what rough looks by this target's one shop share."""
        if self._shared is None:
            self._shared = shared_by(shop)
        return self._shared


def figures_by(offered: Offered, makings: Makings, quantities: list[int]) -> list[Figures]:
    """Cost and price quantities by the rates of a target.

    Raises ``Refused`` with every fault found.
    """
    noted = makings.noted.get((offered.sku, tuple(quantities)))
    if noted is not None:
        return noted
    sold = makings.sold(offered)
    return [sold.figures(quantity) for quantity in quantities]

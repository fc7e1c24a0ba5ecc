"""What is read of products and listings, their prices, and what became of rows that were sent."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import one_of
from gramhour.contract.listing import Listing, ProductEntry
from gramhour.contract.members import Answered
from gramhour.contract.problem import Fault


class ListedBreak(Answered, frozen=True, kw_only=True):
    """A listed price: it holds from its quantity up to the next; ``unit_cost`` as of then."""

    from_quantity: int
    unit_price: Decimal
    unit_price_net: Decimal
    unit_cost: Decimal


class ListedPrice(Answered, frozen=True, kw_only=True):
    """The prices of a listing from a day on: which rates they came from, who applied them.

    ``change`` is a number that only grows. A price that was withdrawn has no breaks.
    """

    change: int
    valid_from: date
    rates_revision: int
    rates_on: date
    discount_pct: Decimal | UnsetType = UNSET
    breaks: list[ListedBreak]
    applied_at: datetime
    applied_by: str
    note: str


class StoredProduct(Answered, frozen=True, kw_only=True):
    """A product, its version, and who made that."""

    code: str
    version: int
    changed_at: datetime
    changed_by: str
    entry: ProductEntry

    @property
    def tag(self) -> str:
        """The product's ``ETag``."""
        return f'"v{self.version}"'


class StoredListing(Answered, frozen=True, kw_only=True):
    """A listing, its version, its price today (if it has one), and those planned."""

    sku: str
    version: int
    changed_at: datetime
    changed_by: str
    listing: Listing
    price: ListedPrice | UnsetType = UNSET
    planned: list[ListedPrice]

    @property
    def tag(self) -> str:
        """The listing's ``ETag``."""
        return f'"v{self.version}"'


class StoredProducts(Answered, frozen=True, kw_only=True):
    """Products in the order of their codes; ``next_cursor`` asks for those after them."""

    items: list[StoredProduct]
    next_cursor: str | UnsetType = UNSET


class StoredListings(Answered, frozen=True, kw_only=True):
    """Listings in the order of their skus; ``next_cursor`` asks for those after them."""

    items: list[StoredListing]
    next_cursor: str | UnsetType = UNSET


class PriceHistory(Answered, frozen=True, kw_only=True):
    """All prices that a sku ever had, the newest change first."""

    sku: str
    items: list[ListedPrice]
    next_cursor: str | UnsetType = UNSET


RowDone = Annotated[str, one_of(Literal["added", "changed", "unchanged", "refused"])]


class RowOutcome(Answered, frozen=True, kw_only=True):
    """What became of one row: its place among those sent, from 1, and why it was refused."""

    row: int
    name: str | UnsetType = UNSET
    done: RowDone
    version: int | UnsetType = UNSET
    errors: list[Fault] | UnsetType = UNSET


class RowOutcomes(Answered, frozen=True, kw_only=True):
    """What became of the rows, in their order, and how many were added, changed and so on."""

    added: int
    changed: int
    unchanged: int
    refused: int
    rows: list[RowOutcome]


class PriceStep(Answered, frozen=True, kw_only=True):
    """A price on a channel from a quantity on."""

    from_quantity: int
    unit_price: Decimal
    unit_price_net: Decimal


class PriceItem(Answered, frozen=True, kw_only=True):
    """What a sku costs from a day on; without breaks it is not for sale from then on."""

    sku: str
    name: str
    change: int
    valid_from: date
    breaks: list[PriceStep]


class Prices(Answered, frozen=True, kw_only=True):
    """What is for sale on a channel.

    ``change`` is the newest change: sent as ``changed_since`` it gets what came after it.
    """

    channel: str
    currency: str
    prices_include_tax: bool
    change: int
    items: list[PriceItem]
    next_cursor: str | UnsetType = UNSET

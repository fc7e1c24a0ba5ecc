"""What is read of products and listings, their prices, and what became of rows that were sent."""

from datetime import datetime
from typing import Annotated, Literal

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Caution
from gramhour.contract.listed import ListedPrice
from gramhour.contract.listing import Listing, ProductEntry
from gramhour.contract.members import Answered, one_of
from gramhour.contract.problem import Fault


class StoredProduct(Answered, frozen=True, kw_only=True):
    """A product, its version, and who made that.

    Answered to a change, ``cautions`` says of its numbers that are hardly meant as they stand.
    """

    code: str
    version: int
    changed_at: datetime
    changed_by: str
    entry: ProductEntry
    cautions: list[Caution] | UnsetType = UNSET

    @property
    def tag(self) -> str:
        """The product's ``ETag``."""
        return f'"v{self.version}"'


class StoredListing(Answered, frozen=True, kw_only=True):
    """A listing, its version, its price today (if it has one), and those planned.

    Answered to a change, ``cautions`` says of its numbers that are hardly meant as they stand.
    """

    sku: str
    version: int
    changed_at: datetime
    changed_by: str
    listing: Listing
    price: ListedPrice | UnsetType = UNSET
    planned: list[ListedPrice]
    cautions: list[Caution] | UnsetType = UNSET

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
    """What became of one row: its place among those sent, from 1, and why it was refused.

    ``cautions`` says of numbers of a row added or changed that are hardly meant as they stand.
    """

    row: int
    name: str | UnsetType = UNSET
    done: RowDone
    version: int | UnsetType = UNSET
    errors: list[Fault] | UnsetType = UNSET
    cautions: list[Caution] | UnsetType = UNSET


class RowOutcomes(Answered, frozen=True, kw_only=True):
    """What became of the rows, in their order, and how many were added, changed and so on."""

    added: int
    changed: int
    unchanged: int
    refused: int
    rows: list[RowOutcome]

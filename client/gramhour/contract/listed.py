"""What a sku is listed at, as whoever sees costs is told it."""

from datetime import date, datetime
from decimal import Decimal

from msgspec import UNSET, UnsetType

from gramhour.contract.members import Answered


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

"""What is for sale on a channel, for a storefront."""

from datetime import date
from decimal import Decimal

from msgspec import UNSET, UnsetType

from gramhour.contract.members import Answered


class PriceStep(Answered, frozen=True, kw_only=True):
    """A price on a channel from a quantity on.

    ``unit_price_net`` is what the goods of an order of that quantity come to without tax, by its
    units, as listed: where orders were raised to a minimum then, more than a unit's own price.
    """

    from_quantity: int
    unit_price: Decimal
    unit_price_net: Decimal


class PriceItem(Answered, frozen=True, kw_only=True):
    """What a sku costs from a day on; without breaks it is not for sale from then on.

    ``seal``, if it was asked for, promises these prices to whoever shows it.
    """

    sku: str
    name: str
    change: int
    valid_from: date
    breaks: list[PriceStep]
    seal: str | UnsetType = UNSET


class Prices(Answered, frozen=True, kw_only=True):
    """What is for sale on a channel.

    ``change`` is the newest change: sent as ``changed_since`` it gets what came after it.
    ``prices_on`` is the day that it is in the shop: of a sku the item holds whose ``valid_from``
    is the latest up to it. Services of before it was told do not say it. The goods of an order
    come to ``minimum_order`` at least, as shown to the buyer; units are sold in multiples of
    ``multiple_of``. Both are of that day, and absent where the channel has none.
    """

    channel: str
    prices_on: date | UnsetType = UNSET
    currency: str
    prices_include_tax: bool
    minimum_order: Decimal | UnsetType = UNSET
    multiple_of: int | UnsetType = UNSET
    change: int
    items: list[PriceItem]
    next_cursor: str | UnsetType = UNSET

"""A quote request."""

from typing import Annotated

from msgspec import UNSET, UnsetType

from gramhour.contract.channel import Aim
from gramhour.contract.members import Code, Quantity, Sent, Share, member
from gramhour.contract.product import Product
from gramhour.contract.rates import Breaks, RateSheet


class QuoteRequest(Sent, frozen=True, kw_only=True):
    """A product and a quantity, to be priced on a channel."""

    product: Annotated[Product, member("what is quoted")]
    quantity: Annotated[Quantity, member("units asked for")]
    breaks: Annotated[
        Breaks | UnsetType, member("further quantities to price; else the sheet's default_breaks")
    ] = UNSET
    channel: Annotated[Code, member("where it is sold", refers_to="channels")]
    aim: Annotated[Aim | UnsetType, member("what the price is to reach; else the channel's")] = (
        UNSET
    )
    discount_pct: Annotated[
        Share | UnsetType, member("taken off the price, a given one too", default="0")
    ] = UNSET
    rates: Annotated[RateSheet | UnsetType, member("a whole rate sheet to price with")] = UNSET

"""What can be asked: a quote of a described product, or of a listed one; one or many."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType, field

from gramhour.contract.by_rates import DayAsked, Overrides, OwnRates, RevisionAsked
from gramhour.contract.channel import Aim
from gramhour.contract.members import (
    Code,
    Days,
    Moment,
    Name,
    Quantity,
    Sent,
    Share,
    Sku,
    member,
)
from gramhour.contract.product import Product
from gramhour.contract.rates import Breaks
from gramhour.contract.workload import Workload

LONGEST_MEASUREMENT = 20_000


class QuoteRequest(Sent, frozen=True, kw_only=True):
    """A product and a quantity, to be priced on a channel. Needs scope ``cost``."""

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
    rates: OwnRates = UNSET
    rate_overrides: Overrides = UNSET
    rates_revision: RevisionAsked = UNSET
    rates_on: DayAsked = UNSET
    valid_days: Annotated[
        Days | UnsetType,
        member("days after rates_on that the quote holds for", default=14),
    ] = UNSET
    from_: Annotated[
        Moment | UnsetType, member("the instant that the lead time counts from; else now")
    ] = field(default=UNSET, name="from")
    workload: Annotated[
        Workload | UnsetType,
        member("what machines are promised for, in place of the stored workload, for what-if"),
    ] = UNSET
    seal: Annotated[
        bool | UnsetType,
        member("sign the prices as a promise; only without rates and a policy of its own"),
    ] = UNSET


class ListedRequest(Sent, frozen=True, kw_only=True):
    """A listed product and a quantity: all that a key of scope ``price`` may ask."""

    sku: Annotated[Sku, member("the listing")]
    quantity: Annotated[Quantity, member("units asked for")]
    breaks: Annotated[Breaks | UnsetType, member("further quantities to price")] = UNSET
    channel: Annotated[Code | UnsetType, member("where it is sold, of the key's")] = UNSET
    seal: Annotated[bool | UnsetType, member("sign the listed prices as a promise")] = UNSET


class MeasuredRequest(Sent, frozen=True, kw_only=True):
    """A file that was measured, made by one of the shop's services in one of its materials.

    A key of scope ``price`` may send all up to ``seal``; the rest, for what-if, needs ``cost``.
    """

    measurement: Annotated[
        Annotated[str, Meta(max_length=LONGEST_MEASUREMENT)],
        member("as `/v1/measurements` signed it, asked with the same service"),
    ]
    service: Annotated[Code, member("what the shop offers for own parts; one of `services`")]
    material: Annotated[Code, member("what it is printed in; one of the service's materials")]
    quantity: Annotated[Quantity, member("units asked for")]
    breaks: Annotated[
        Breaks | UnsetType, member("further quantities to price; else the sheet's default_breaks")
    ] = UNSET
    channel: Annotated[Code | UnsetType, member("the service's, if it is said at all")] = UNSET
    seal: Annotated[bool | UnsetType, member("sign the prices as a promise")] = UNSET
    aim: Annotated[Aim | UnsetType, member("what the price is to reach; else the channel's")] = (
        UNSET
    )
    discount_pct: Annotated[Share | UnsetType, member("taken off the price", default="0")] = UNSET
    rate_overrides: Overrides = UNSET
    rates_revision: RevisionAsked = UNSET
    rates_on: DayAsked = UNSET
    valid_days: Annotated[
        Days | UnsetType, member("days after rates_on that the quote holds for", default=14)
    ] = UNSET
    from_: Annotated[
        Moment | UnsetType, member("the instant that the lead time counts from; else now")
    ] = field(default=UNSET, name="from")
    workload: Annotated[
        Workload | UnsetType, member("what machines are promised for, for what-if")
    ] = UNSET


Reference = Annotated[Name | UnsetType, member("your own word for this one, echoed in its answer")]


class QuoteItem(QuoteRequest, frozen=True, kw_only=True):
    """A quote request among others."""

    reference: Reference = UNSET


class ListedItem(ListedRequest, frozen=True, kw_only=True):
    """A request for a listed product among others."""

    reference: Reference = UNSET


class MeasuredItem(MeasuredRequest, frozen=True, kw_only=True):
    """A request for a measured file among others."""

    reference: Reference = UNSET

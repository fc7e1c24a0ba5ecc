"""A channel: where the shop sells, with its fees, postage, tax and the aims of its prices.

``unit_price``, ``minimum_order`` and what is ``charged`` for postage are as shown to the buyer.
"""

from typing import Annotated, ClassVar

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import (
    Code,
    Margin,
    Markup,
    Measure,
    Money,
    Name,
    Note,
    OneWay,
    Per,
    PriceStep,
    Promise,
    Quantity,
    Sent,
    Share,
    TaxRate,
    Way,
    WorkingDays,
    member,
)


class Packing(Sent, frozen=True, kw_only=True):
    """What a channel's orders are packed in."""

    component: Annotated[Code, member("the part", refers_to="components")]
    count: Annotated[Measure | UnsetType, member("how many", default="1")] = UNSET
    per: Annotated[Per, member("for each unit, or once an order")]


class PostageRow(Sent, frozen=True, kw_only=True):
    """A parcel size: what sending it costs, and what the buyer is charged."""

    up_to_units: Annotated[Quantity, member("units that fit")]
    cost: Annotated[Money | UnsetType, member("what the shop pays, per parcel", default="0")] = (
        UNSET
    )
    charged: Annotated[
        Money | UnsetType,
        member("what the buyer pays, per parcel, tax as the channel's prices have it", default="0"),
    ] = UNSET


class Aim(Sent, frozen=True, kw_only=True):
    """What a price is to reach: a margin on price, a markup on cost, or the price itself."""

    margin_pct: Annotated[Margin | UnsetType, member("profit in per cent of the net price")] = UNSET
    markup_pct: Annotated[Markup | UnsetType, member("profit in per cent of the cost")] = UNSET
    unit_price: Annotated[Money | UnsetType, member("the shown price itself")] = UNSET

    one_way: ClassVar = (
        OneWay((Way(("margin_pct",)), Way(("markup_pct",)), Way(("unit_price",)))),
    )


class MarginBreak(Sent, frozen=True, kw_only=True):
    """The margin a channel aims at from a quantity on."""

    from_quantity: Annotated[Quantity, member("holds from so many units")]
    margin_pct: Annotated[Margin, member("profit in per cent of the net price")]


class Channel(Sent, frozen=True, kw_only=True):
    """Where the shop sells: fees, postage, tax, how prices end, what they aim at."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    public: Annotated[
        bool | UnsetType, member("open to buyers without a key, if the service is", default=False)
    ] = UNSET
    prices_include_tax: Annotated[bool, member("whether shown prices have the tax inside")]
    tax_rate_pct: Annotated[TaxRate | UnsetType, member("tax on sales", default="0")] = UNSET
    fee_pct: Annotated[
        Share | UnsetType,
        member("of all that the buyer pays, tax and postage included", default="0"),
    ] = UNSET
    payment_pct: Annotated[
        Share | UnsetType,
        member("of all that the buyer pays, tax and postage included", default="0"),
    ] = UNSET
    fee_per_order: Annotated[Money | UnsetType, member("fixed fee an order", default="0")] = UNSET
    fee_per_unit: Annotated[Money | UnsetType, member("fixed fee a unit", default="0")] = UNSET
    postage: Annotated[
        Annotated[list[PostageRow], Meta(max_length=20)] | UnsetType,
        member("parcel sizes; no postage without a row"),
    ] = UNSET
    packing: Annotated[
        Annotated[list[Packing], Meta(max_length=50)] | UnsetType,
        member("what orders of this channel are packed in"),
    ] = UNSET
    price_step: Annotated[
        PriceStep | UnsetType,
        member("prices are whole steps plus price_ending; the minor unit if absent"),
    ] = UNSET
    price_ending: Annotated[
        Money | UnsetType, member("added to the steps; needs a price_step", default="0")
    ] = UNSET
    minimum_order: Annotated[
        Money | UnsetType, member("least goods value of an order, as shown", default="0")
    ] = UNSET
    multiple_of: Annotated[
        Quantity | UnsetType, member("sold in multiples of so many units", default=1)
    ] = UNSET
    margin_floor_pct: Annotated[
        Margin | UnsetType, member("a margin below it is flagged; never if absent")
    ] = UNSET
    aim: Annotated[Aim | UnsetType, member("what prices aim at where the request does not say")] = (
        UNSET
    )
    margin_breaks: Annotated[
        Annotated[list[MarginBreak], Meta(max_length=50)] | UnsetType,
        member("margins by quantity, before the channel's own aim"),
    ] = UNSET
    promise_pct: Annotated[
        Promise | UnsetType,
        member("how sure a ready date must be, failed builds considered", default="90"),
    ] = UNSET
    dispatch_working_days: Annotated[
        WorkingDays | UnsetType, member("from ready in the shop to the ready date", default=0)
    ] = UNSET

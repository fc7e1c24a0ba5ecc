"""Bought-in parts: the packs they are sold in, and the cautions that they bring along."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import (
    Money,
    Name,
    Note,
    Packs,
    PackSize,
    Pieces,
    Sent,
    Surcharge,
    WorkingDays,
    member,
)

Hazard = Literal[
    "mains voltage",
    "lithium battery",
    "heat source",
    "food contact",
    "small parts for children under three",
    "load-bearing",
]
Charging = Literal["stock", "order"]
Hazards = Annotated[list[Hazard], Meta(max_length=20)]
ComponentMeasure = Literal["piece", "m", "g", "ml"]


class PackOffer(Sent, frozen=True, kw_only=True):
    """A pack of a bought-in part, at the price that holds from a number of such packs."""

    pack_quantity: Annotated[PackSize | UnsetType, member("parts in one pack", default=1)] = UNSET
    price: Annotated[Money, member("price of one pack")]
    from_packs: Annotated[
        Packs | UnsetType, member("holds when so many of this size are bought", default=1)
    ] = UNSET
    delivery_working_days: Annotated[
        WorkingDays | UnsetType,
        member("until packs that are bought for an order arrive", default=0),
    ] = UNSET


class Component(Sent, frozen=True, kw_only=True):
    """A bought-in part: its offers, and whether it comes from stock or is bought for the order."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    offers: Annotated[
        Annotated[list[PackOffer], Meta(min_length=1, max_length=8)], member("packs it is sold in")
    ]
    shipping_per_purchase: Annotated[
        Money | UnsetType, member("shipping of one purchase", default="0")
    ] = UNSET
    spare_pct: Annotated[
        Surcharge | UnsetType, member("bought beyond the need: lost or broken", default="0")
    ] = UNSET
    charging: Annotated[
        Charging | UnsetType,
        member("from stock at the usual price, or bought for each order", default="stock"),
    ] = UNSET
    measure: Annotated[ComponentMeasure | UnsetType, member("what is counted", default="piece")] = (
        UNSET
    )
    usual_pieces: Annotated[
        Pieces | UnsetType,
        member("what one usual purchase is to cover; the first offer's packs if absent"),
    ] = UNSET
    hazards: Annotated[Hazards | UnsetType, member("cautions it brings along")] = UNSET

"""What the shop offers: products, described once, and listings of them, each with its policy."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.channel import Aim
from gramhour.contract.members import Code, Margin, Money, Name, Note, Sent, Sku, member
from gramhour.contract.product import Product
from gramhour.contract.rates import Breaks

Swaps = Annotated[
    dict[
        Annotated[Code, member("a filament of the product")],
        Annotated[Code, member("the filament instead", refers_to="materials")],
    ],
    Meta(min_length=1, max_length=32),
]


class Variant(Sent, frozen=True, kw_only=True):
    """The same product in other filaments."""

    name: Annotated[Code, member("what listings call it")]
    materials: Annotated[Swaps, member("which filament stands in for which")]


class ProductEntry(Sent, frozen=True, kw_only=True):
    """A product as the shop keeps it, once for all listings."""

    product: Annotated[Product, member("what one unit is")]
    variants: Annotated[
        Annotated[list[Variant], Meta(max_length=200)] | UnsetType,
        member("the same in other filaments"),
    ] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET


class ProductRow(ProductEntry, frozen=True, kw_only=True):
    """A product among others."""

    code: Annotated[Code, member("what listings call it")]


class Listing(Sent, frozen=True, kw_only=True):
    """A product or a variant of it for sale on a channel, and how its price is made."""

    name: Annotated[Name | UnsetType, member("what buyers read; else the product's name")] = UNSET
    product: Annotated[Code, member("what is sold")]
    variant: Annotated[Code | UnsetType, member("in these filaments; else as described")] = UNSET
    channel: Annotated[Code, member("where it is sold", refers_to="channels")]
    aim: Annotated[Aim | UnsetType, member("what the price is to reach; else the channel's")] = (
        UNSET
    )
    breaks: Annotated[
        Breaks | UnsetType, member("quantities with a price; else the sheet's default_breaks")
    ] = UNSET
    margin_floor_pct: Annotated[
        Margin | UnsetType, member("a margin below it is told; else the channel's floor")
    ] = UNSET
    least_change: Annotated[
        Money | UnsetType,
        member("a shown price that would move by less at every break stays", default="0"),
    ] = UNSET
    hold: Annotated[
        bool | UnsetType, member("the price stays whatever the costs do", default=False)
    ] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET


class ListingRow(Listing, frozen=True, kw_only=True):
    """A listing among others."""

    sku: Annotated[Sku, member("its stock-keeping unit, which orders name")]

"""Filaments: what a gram costs, by weight or by the pack, and how kindly one prints."""

from typing import Annotated, ClassVar

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import (
    Density,
    Factor,
    Grams,
    GramsAboveZero,
    Millimetres,
    Money,
    MoneyPerKilogram,
    Name,
    Note,
    OneWay,
    Packs,
    Sent,
    Share,
    Way,
    WorkingDays,
    Yield,
    member,
)


class Tier(Sent, frozen=True, kw_only=True):
    """A discount that opens at a number of packs bought together."""

    from_packs: Annotated[Packs | UnsetType, member("opens at so many packs", default=1)] = UNSET
    discount_pct: Annotated[Share, member("off the list price")]


class FeedstockOffer(Sent, frozen=True, kw_only=True):
    """What a filament costs by the pack, in the shop's usual purchase."""

    pack_g: Annotated[GramsAboveZero, member("filament in one pack")]
    list_price: Annotated[Money, member("price of one pack before any discount")]
    tiers: Annotated[
        Annotated[list[Tier], Meta(max_length=20)] | UnsetType,
        member("quantity discounts; the largest one open at usual_packs counts"),
    ] = UNSET
    rebate_pct: Annotated[
        Share | UnsetType, member("credit on a later purchase, after the tier", default="0")
    ] = UNSET
    shipping_per_purchase: Annotated[
        Money | UnsetType, member("shipping of one purchase", default="0")
    ] = UNSET
    free_shipping_from_packs: Annotated[
        Packs | UnsetType, member("no shipping from so many packs; never if absent")
    ] = UNSET
    tail_g: Annotated[
        Grams | UnsetType, member("left on the spool and thrown away", default="0")
    ] = UNSET
    usual_packs: Annotated[
        Packs | UnsetType, member("packs in the shop's usual purchase", default=1)
    ] = UNSET
    delivery_working_days: Annotated[
        WorkingDays | UnsetType,
        member("until packs that are bought for an order arrive", default=0),
    ] = UNSET


class Material(Sent, frozen=True, kw_only=True):
    """A filament: its price, density, diameter and how kindly it prints."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    price_per_kg: Annotated[
        MoneyPerKilogram | UnsetType, member("price of a kilogram; else give an offer")
    ] = UNSET
    offer: Annotated[
        FeedstockOffer | UnsetType, member("price by the pack; else give price_per_kg")
    ] = UNSET
    density_g_cm3: Annotated[
        Density | UnsetType, member("needed where a feed is given by volume or length")
    ] = UNSET
    diameter_mm: Annotated[
        Millimetres | UnsetType, member("filament diameter; needed for a feed given by length")
    ] = UNSET
    first_pass_yield_pct: Annotated[
        Yield | UnsetType, member("share of starts this material lets come out good", default="100")
    ] = UNSET
    failure_factor: Annotated[
        Factor | UnsetType,
        member("multiplies the failure rate of an hours-between-failures machine", default="1"),
    ] = UNSET
    abrasion: Annotated[
        Factor | UnsetType,
        member("multiplies nozzle wear (filled filaments wear more)", default="1"),
    ] = UNSET

    one_way: ClassVar = (OneWay((Way(("price_per_kg",)), Way(("offer",)))),)

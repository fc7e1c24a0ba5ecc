"""The rate sheet: what a shop's materials, nozzles, machines, parts and channels cost.

One sheet has one currency. Rates, fees and postage exclude tax that the shop recovers;
``unit_price``, ``minimum_order`` and what is ``charged`` for postage are as shown to the buyer.
"""

from typing import Annotated, ClassVar, Literal

from msgspec import UNSET, Meta, UnsetType
from msgspec.structs import replace

from gramhour.contract.channel import Channel
from gramhour.contract.hours import ClosedDays, StaffedHours
from gramhour.contract.members import (
    Code,
    Density,
    Factor,
    Gap,
    Grams,
    GramsAboveZero,
    Hours,
    Kilograms,
    KilowattHours,
    Machines,
    Millimetres,
    Minutes,
    Money,
    MoneyPerHour,
    MoneyPerKilogram,
    MoneyPerKilowattHour,
    MoneyPerYear,
    Name,
    Note,
    OneWay,
    Pace,
    Packs,
    PackSize,
    Pieces,
    Quantity,
    Sent,
    Share,
    Surcharge,
    Watts,
    Way,
    WorkingDays,
    Years,
    Yield,
    member,
)
from gramhour.contract.motion import Motion
from gramhour.contract.profile import Profile
from gramhour.contract.service import Service
from gramhour.contract.size import Size

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


class Nozzle(Sent, frozen=True, kw_only=True):
    """A nozzle: what it costs, how long it lasts, how long a change takes."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    diameter_mm: Annotated[Millimetres | UnsetType, member("bore of the nozzle")] = UNSET
    price: Annotated[Money | UnsetType, member("price of one nozzle", default="0")] = UNSET
    life_kg: Annotated[
        Kilograms | UnsetType, member("filament until it is worn out; no wear if absent")
    ] = UNSET
    change_min: Annotated[
        Minutes | UnsetType, member("people's minutes to fit it and change back", default="0")
    ] = UNSET


class Machine(Sent, frozen=True, kw_only=True):
    """A printer: its hour rate (given or built up), power, warm-up and failures."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    rate_per_hour: Annotated[
        MoneyPerHour | UnsetType, member("machine-hour rate; else give what it is built up from")
    ] = UNSET
    replacement_price: Annotated[Money | UnsetType, member("price of such a machine today")] = UNSET
    residual_value: Annotated[
        Money | UnsetType, member("what it still fetches at the end", default="0")
    ] = UNSET
    life_years: Annotated[Years | UnsetType, member("years until it is replaced")] = UNSET
    interest_pct: Annotated[
        Surcharge | UnsetType, member("imputed interest a year on half the value", default="0")
    ] = UNSET
    space_per_year: Annotated[
        MoneyPerYear | UnsetType, member("rent of the space it takes", default="0")
    ] = UNSET
    maintenance_per_year: Annotated[
        MoneyPerYear | UnsetType, member("upkeep a year", default="0")
    ] = UNSET
    hours_per_year: Annotated[
        Hours | UnsetType, member("practical capacity a year, not the hours that were used")
    ] = UNSET
    power_w: Annotated[Watts, member("mean power while printing; a piece may give its own")]
    warm_up_min: Annotated[
        Minutes | UnsetType, member("minutes before each build starts", default="0")
    ] = UNSET
    warm_up_kwh: Annotated[
        KilowattHours | UnsetType, member("energy of one warm-up", default="0")
    ] = UNSET
    usual_nozzle: Annotated[
        Code | UnsetType,
        member(
            "the nozzle that is fitted anyway; another one must be changed", refers_to="nozzles"
        ),
    ] = UNSET
    first_pass_yield_pct: Annotated[
        Yield | UnsetType, member("share of starts that come out good (yield form)", default="100")
    ] = UNSET
    loss_at_failure_pct: Annotated[
        Share | UnsetType,
        member("how far a build that fails has come (yield form)", default="50"),
    ] = UNSET
    hours_between_failures: Annotated[
        Hours | UnsetType, member("mean printing hours between failures (hours form)")
    ] = UNSET
    start_yield_pct: Annotated[
        Yield | UnsetType, member("share of starts that hold (hours form)", default="100")
    ] = UNSET
    count: Annotated[
        Machines | UnsetType, member("equal machines that this code stands for", default=1)
    ] = UNSET
    unattended: Annotated[
        bool | UnsetType,
        member(
            "whether a build may run on with nobody present; else it must fit into staffed hours",
            default=False,
        ),
    ] = UNSET
    motion: Annotated[
        Motion | UnsetType, member("how it moves; needed to estimate minutes from a toolpath")
    ] = UNSET
    build_volume: Annotated[
        Size | UnsetType, member("the room that pieces may take; needed to say how many fit")
    ] = UNSET
    spacing_mm: Annotated[
        Gap | UnsetType, member("kept between pieces of one build", default="0")
    ] = UNSET
    edge_mm: Annotated[
        Gap | UnsetType, member("of the build volume kept free along each side", default="0")
    ] = UNSET
    pace: Annotated[
        Pace | UnsetType,
        member(
            "share of time at a profile's speed, in estimates from a profile; calibrate it",
            default="1",
        ),
    ] = UNSET

    one_way: ClassVar = (
        OneWay(
            (
                Way(("rate_per_hour",)),
                Way(
                    ("replacement_price", "life_years", "hours_per_year"),
                    ("residual_value", "interest_pct", "space_per_year", "maintenance_per_year"),
                ),
            )
        ),
        OneWay(
            (
                Way((), ("first_pass_yield_pct", "loss_at_failure_pct")),
                Way(("hours_between_failures",), ("start_yield_pct",)),
            ),
            required=False,
        ),
    )


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


Breaks = Annotated[list[Quantity], Meta(max_length=50)]


class Rates(Sent, frozen=True, kw_only=True):
    """What a whole sheet and overrides have in common: the kinds of rates, and surcharges."""

    material_overhead_pct: Annotated[
        Surcharge | UnsetType, member("on feedstock, components and packaging", default="0")
    ] = UNSET
    production_overhead_pct: Annotated[
        Surcharge | UnsetType,
        member("on machine, energy, nozzle wear, labour, scrap and rejects", default="0"),
    ] = UNSET
    admin_overhead_pct: Annotated[
        Surcharge | UnsetType, member("on all lines above it", default="0")
    ] = UNSET
    default_breaks: Annotated[
        Breaks | UnsetType, member("quantities to price where the request names none")
    ] = UNSET
    staffed_hours: Annotated[
        StaffedHours | UnsetType,
        member("when somebody is there, in the time_zone; no lead time is told if absent"),
    ] = UNSET
    closed_days: Annotated[
        ClosedDays | UnsetType, member("days on which nobody is there, whatever the weekday")
    ] = UNSET
    materials: Annotated[dict[Code, Material] | UnsetType, member("filaments by code")] = UNSET
    nozzles: Annotated[dict[Code, Nozzle] | UnsetType, member("nozzles by code")] = UNSET
    machines: Annotated[dict[Code, Machine] | UnsetType, member("printers by code")] = UNSET
    components: Annotated[dict[Code, Component] | UnsetType, member("bought-in parts by code")] = (
        UNSET
    )
    channels: Annotated[dict[Code, Channel] | UnsetType, member("sales channels by code")] = UNSET
    profiles: Annotated[dict[Code, Profile] | UnsetType, member("ways to print by code")] = UNSET
    services: Annotated[
        dict[Code, Service] | UnsetType, member("offers for customers' own parts by code")
    ] = UNSET


CurrencyCode = Annotated[
    str,
    Meta(
        pattern="^[A-Z]{3}$",
        extra={"form": "an ISO 4217 code of three capital letters, such as EUR or USD"},
    ),
]


class RateSheet(Rates, frozen=True, kw_only=True):
    """Everything a quote needs to know of a shop."""

    currency: Annotated[CurrencyCode, member("ISO 4217 code of all its money")]
    time_zone: Annotated[
        Name | UnsetType,
        member("where the shop's days begin, a name of the tz database", default="UTC"),
    ] = UNSET
    labour_rate_per_hour: Annotated[MoneyPerHour, member("what an hour of people's work costs")]
    price_per_kwh: Annotated[MoneyPerKilowattHour, member("electricity")]


class RateOverrides(Rates, frozen=True, kw_only=True):
    """Single rates in place of the sheet's, each one whole; or new ones."""

    labour_rate_per_hour: Annotated[
        MoneyPerHour | UnsetType, member("what an hour of people's work costs")
    ] = UNSET
    price_per_kwh: Annotated[MoneyPerKilowattHour | UnsetType, member("electricity")] = UNSET


KINDS = (
    "materials",
    "nozzles",
    "machines",
    "components",
    "channels",
    "profiles",
    "services",
)
"""The kinds of rates that have codes. What a sheet has beside them is sheet-wide."""


def overridden(sheet: RateSheet, overrides: RateOverrides) -> RateSheet:
    """Put single rates in place of a sheet's."""
    changed: dict[str, object] = {}
    for name in overrides.__struct_fields__:
        value = getattr(overrides, name)
        if value is not UNSET:
            was = getattr(sheet, name)
            changed[name] = {**was, **value} if name in KINDS and was is not UNSET else value
    return replace(sheet, **changed)

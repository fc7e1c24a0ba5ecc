"""The rate sheet: what a shop's materials, nozzles, machines, parts and channels cost.

One sheet has one currency. Rates, fees and postage exclude tax that the shop recovers;
``unit_price``, ``minimum_order`` and what is ``charged`` for postage are as shown to the buyer.
"""

from typing import Annotated, Literal, get_args

from msgspec import UNSET, Meta, UnsetType
from msgspec.structs import replace

from gramhour.contract.channel import Channel
from gramhour.contract.component import Component
from gramhour.contract.hours import ClosedDays, StaffedHours
from gramhour.contract.machine import Machine, Nozzle
from gramhour.contract.material import Material
from gramhour.contract.members import (
    Code,
    MoneyPerHour,
    MoneyPerKilowattHour,
    Name,
    Quantity,
    Sent,
    Surcharge,
    member,
)
from gramhour.contract.profile import Profile
from gramhour.contract.service import Service

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


KindWithCodes = Literal[
    "materials",
    "nozzles",
    "machines",
    "components",
    "channels",
    "profiles",
    "services",
]
KINDS: tuple[str, ...] = get_args(KindWithCodes)
"""The kinds of rates that have codes. What a sheet has beside them is sheet-wide."""
OF_A_SHEET = frozenset({"currency", "labour_rate_per_hour", "price_per_kwh", *KINDS})
"""Members that a whole sheet has, and nothing that is quoted, compared or imported beside it."""


def overridden(sheet: RateSheet, overrides: RateOverrides) -> RateSheet:
    """Put single rates in place of a sheet's."""
    changed: dict[str, object] = {}
    for name in overrides.__struct_fields__:
        value = getattr(overrides, name)
        if value is not UNSET:
            was = getattr(sheet, name)
            changed[name] = {**was, **value} if name in KINDS and was is not UNSET else value
    return replace(sheet, **changed)

"""Printers and their nozzles: what an hour costs, how often builds fail, what fits on a plate."""

from typing import Annotated, ClassVar

from msgspec import UNSET, UnsetType

from gramhour.contract.members import (
    Code,
    Gap,
    Hours,
    Kilograms,
    KilowattHours,
    Machines,
    Millimetres,
    Minutes,
    Money,
    MoneyPerHour,
    MoneyPerYear,
    Name,
    Note,
    OneWay,
    Pace,
    Sent,
    Share,
    Surcharge,
    Watts,
    Way,
    Years,
    Yield,
    member,
)
from gramhour.contract.motion import Motion
from gramhour.contract.size import Size


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

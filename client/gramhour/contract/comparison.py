"""What is to be compared: one product made in several ways, and by what the best one is told."""

from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from msgspec import UNSET, Meta, UnsetType, field

from gramhour.contract.by_rates import DayAsked, Overrides, OwnRates, RevisionAsked
from gramhour.contract.channel import Aim
from gramhour.contract.listing import Swaps
from gramhour.contract.members import (
    Code,
    Grams,
    Minutes,
    Moment,
    Money,
    Name,
    OneWay,
    Pieces,
    PriceStep,
    Quantity,
    Sent,
    Way,
    amount,
    member,
)
from gramhour.contract.product import Product
from gramhour.contract.workload import Workload

Criterion = Literal[
    "unit_cost",
    "unit_price",
    "margin",
    "contribution_per_machine_hour",
    "contribution_per_labour_hour",
]
Label = Annotated[str, Meta(min_length=1, max_length=200)]
UpTo = Annotated[int, Meta(ge=1, le=2_000, extra={"unit": "units"})]
UnitsAMonth = Annotated[Decimal, amount("units/month", above=0)]


class PieceChange(Sent, frozen=True, kw_only=True):
    """What is another way at one piece, or at all of them. What is left out stays as described."""

    piece: Annotated[Name | UnsetType, member("the piece's name; all pieces if absent")] = UNSET
    machine: Annotated[
        Code | UnsetType, member("printed on this printer", refers_to="machines")
    ] = UNSET
    nozzle: Annotated[Code | UnsetType, member("with this nozzle", refers_to="nozzles")] = UNSET
    material: Annotated[
        Code | UnsetType, member("all its filaments are this one", refers_to="materials")
    ] = UNSET
    materials: Annotated[
        Swaps | UnsetType, member("which filament stands in for which, instead of material")
    ] = UNSET
    pieces_per_build: Annotated[Pieces | UnsetType, member("pieces on a full build")] = UNSET
    profile: Annotated[
        Code | UnsetType,
        member("its shape is printed by this one; of a piece with geometry", refers_to="profiles"),
    ] = UNSET
    print_min: Annotated[Minutes | UnsetType, member("printing minutes of one full build")] = UNSET
    per_build_min: Annotated[
        Minutes | UnsetType, member("part of them that a build needs however full it is")
    ] = UNSET
    mass_g: Annotated[
        Grams | UnsetType, member("in one full build; only of a piece that has one filament")
    ] = UNSET
    per_build_g: Annotated[
        Grams | UnsetType, member("part of it that a build needs however full it is; as mass_g")
    ] = UNSET

    one_way: ClassVar = (OneWay((Way(("material",)), Way(("materials",))), required=False),)


class Outlay(Sent, frozen=True, kw_only=True):
    """What has to be bought before it can be made in this way."""

    price: Annotated[PriceStep, member("what it costs, without the tax that the shop recovers")]
    machine: Annotated[
        Code | UnsetType,
        member(
            "it is this printer: its depreciation is left out of what it costs to run",
            refers_to="machines",
        ),
    ] = UNSET
    nozzle: Annotated[
        Code | UnsetType,
        member("it is this nozzle: its wear is left out likewise", refers_to="nozzles"),
    ] = UNSET


class Alternative(Sent, frozen=True, kw_only=True):
    """One way to make the product. Without changes it is made as it is described."""

    label: Annotated[Label, member("what it is called; another one for each")]
    pieces: Annotated[
        Annotated[list[PieceChange], Meta(max_length=100)] | UnsetType,
        member("what is another way, piece by piece; of two for a piece the later one holds"),
    ] = UNSET
    purchase: Annotated[
        Outlay | UnsetType, member("what it takes to buy; when has that paid for itself?")
    ] = UNSET


class ComparisonRequest(Sent, frozen=True, kw_only=True):
    """A product and the ways to make it. Needs scope ``cost``."""

    product: Annotated[Product, member("what is compared")]
    channel: Annotated[Code, member("where it is sold", refers_to="channels")]
    alternatives: Annotated[
        Annotated[list[Alternative], Meta(min_length=1, max_length=50)],
        member("the ways to make it; what is bought is judged against the first"),
    ]
    quantities: Annotated[
        Annotated[list[Quantity], Meta(min_length=1, max_length=50)],
        member("units of the orders to look at"),
    ]
    criterion: Annotated[
        Criterion | UnsetType,
        member("what the best one is best in", default="contribution_per_machine_hour"),
    ] = UNSET
    market_price: Annotated[
        Money | UnsetType,
        member("what a unit sells for whatever way it is made, as shown; else each its own price"),
    ] = UNSET
    up_to: Annotated[
        UpTo | UnsetType, member("look for the best one at every quantity up to this one")
    ] = UNSET
    demand_per_month: Annotated[
        UnitsAMonth | UnsetType, member("units sold a month, for how long a purchase takes")
    ] = UNSET
    aim: Annotated[Aim | UnsetType, member("what the prices are to reach; else the channel's")] = (
        UNSET
    )
    rates: OwnRates = UNSET
    rate_overrides: Overrides = UNSET
    rates_revision: RevisionAsked = UNSET
    rates_on: DayAsked = UNSET
    from_: Annotated[
        Moment | UnsetType, member("the instant that the ready dates count from; else now")
    ] = field(default=UNSET, name="from")
    workload: Annotated[
        Workload | UnsetType,
        member("what machines are promised for, in place of the stored workload, for what-if"),
    ] = UNSET

"""A product: pieces that are printed, parts that are bought in, and people's work."""

from typing import Annotated, ClassVar, Literal

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.component import Hazards
from gramhour.contract.geometry import Geometry
from gramhour.contract.members import (
    Code,
    CubicCentimetres,
    Grams,
    Measure,
    Metres,
    Minutes,
    Money,
    Name,
    OneWay,
    Per,
    Pieces,
    RejectShare,
    Sent,
    Share,
    Watts,
    Way,
    Yield,
    member,
)
from gramhour.contract.work import Work


class Feed(Sent, frozen=True, kw_only=True):
    """One filament of a piece, as one full build uses it."""

    material: Annotated[Code, member("the filament", refers_to="materials")]
    mass_g: Annotated[
        Grams | UnsetType, member("in one full build, supports, brim and purge included")
    ] = UNSET
    volume_cm3: Annotated[
        CubicCentimetres | UnsetType, member("the same as a volume, instead of mass_g")
    ] = UNSET
    length_m: Annotated[
        Metres | UnsetType, member("the same as a length of filament, instead of mass_g")
    ] = UNSET
    per_build_g: Annotated[
        Grams | UnsetType,
        member("part of it that a build needs however full it is", default="0"),
    ] = UNSET
    charge: Annotated[
        Literal["consumption", "whole_packs"] | UnsetType,
        member(
            "pay for the grams used, or for whole packs bought for the order", default="consumption"
        ),
    ] = UNSET

    one_way: ClassVar = (OneWay((Way(("mass_g",)), Way(("volume_cm3",)), Way(("length_m",)))),)


class Piece(Sent, frozen=True, kw_only=True):
    """A printed piece, described by a full build of it or estimated from its shape.

    ``feed`` and ``print_min`` describe one full build. ``geometry``, ``profile`` and ``material``
    stand in their place where nobody has prepared a plate: grams and minutes are then estimates.
    """

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    machine: Annotated[Code, member("the printer", refers_to="machines")]
    nozzle: Annotated[Code | UnsetType, member("the nozzle fitted for it", refers_to="nozzles")] = (
        UNSET
    )
    feed: Annotated[
        Annotated[list[Feed], Meta(min_length=1, max_length=32)] | UnsetType,
        member("its filaments"),
    ] = UNSET
    print_min: Annotated[Minutes | UnsetType, member("printing minutes of one full build")] = UNSET
    per_build_min: Annotated[
        Minutes | UnsetType,
        member("part of them that a build needs however full it is", default="0"),
    ] = UNSET
    geometry: Annotated[
        Geometry | UnsetType, member("its shape, instead of feed and print_min")
    ] = UNSET
    profile: Annotated[Code | UnsetType, member("how a shape is printed", refers_to="profiles")] = (
        UNSET
    )
    material: Annotated[
        Code | UnsetType, member("what a shape is printed in", refers_to="materials")
    ] = UNSET
    pieces_per_build: Annotated[
        Pieces | UnsetType,
        member(
            "pieces on a full build; of a shape as many as the machine's build_volume holds",
            default=1,
        ),
    ] = UNSET
    count: Annotated[Pieces | UnsetType, member("such pieces in one unit", default=1)] = UNSET
    power_w: Annotated[
        Watts | UnsetType, member("mean power while printing it; the machine's if absent")
    ] = UNSET
    first_pass_yield_pct: Annotated[
        Yield | UnsetType,
        member("share of starts that come out good, in place of machine and materials"),
    ] = UNSET

    one_way: ClassVar = (
        OneWay(
            (
                Way(("feed", "print_min"), ("per_build_min",)),
                Way(("geometry", "profile", "material")),
            )
        ),
    )


class ComponentUse(Sent, frozen=True, kw_only=True):
    """A bought-in part of the product."""

    component: Annotated[Code, member("the part", refers_to="components")]
    count: Annotated[Measure | UnsetType, member("how many, or how much", default="1")] = UNSET
    per: Annotated[
        Per | UnsetType, member("for each unit, or once an order (packaging)", default="unit")
    ] = UNSET


class DesignFee(Sent, frozen=True, kw_only=True):
    """What the design costs: by the unit, once, or as a share of the price."""

    per_unit: Annotated[Money | UnsetType, member("licence or wage, a unit", default="0")] = UNSET
    one_off: Annotated[Money | UnsetType, member("paid once for the design", default="0")] = UNSET
    one_off_units: Annotated[
        Pieces | UnsetType, member("units the one-off is spread over", default=1)
    ] = UNSET
    share_pct: Annotated[
        Share | UnsetType, member("of the goods' net price, charged as a fee", default="0")
    ] = UNSET


class Product(Sent, frozen=True, kw_only=True):
    """What is quoted: one unit of it."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    pieces: Annotated[
        Annotated[list[Piece], Meta(max_length=100)] | UnsetType, member("what is printed")
    ] = UNSET
    components: Annotated[
        Annotated[list[ComponentUse], Meta(max_length=200)] | UnsetType, member("what is bought in")
    ] = UNSET
    work: Annotated[Work | UnsetType, member("people's minutes; none if absent")] = UNSET
    design_fee: Annotated[
        DesignFee | UnsetType, member("what the design costs; nothing if absent")
    ] = UNSET
    reject_pct: Annotated[
        RejectShare | UnsetType,
        member("of the units made: rejected, broken or returned, and made again", default="0"),
    ] = UNSET
    hazards: Annotated[Hazards | UnsetType, member("what its buyer must be told about")] = UNSET

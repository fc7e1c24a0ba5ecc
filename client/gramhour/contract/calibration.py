"""Calibration: from builds that the shop has timed to a machine's pace and a change of layer."""

from decimal import Decimal
from typing import Annotated, ClassVar

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import (
    Answered,
    Code,
    Name,
    OneWay,
    Sent,
    Way,
    amount,
    member,
)

MassLaid = Annotated[Decimal, amount("g", above=0)]
VolumeLaid = Annotated[Decimal, amount("cm3", above=0)]
TimedMinutes = Annotated[Decimal, amount("min", above=0, most=100_000)]
LayersLaid = Annotated[int, Meta(ge=1, le=100_000, extra={"unit": "layers"})]


class TimedBuild(Sent, frozen=True, kw_only=True):
    """A build that was printed: what it took, and how long, without warm-up."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    material: Annotated[Code, member("what it was printed in", refers_to="materials")]
    mass_g: Annotated[
        MassLaid | UnsetType, member("laid down in all, by the material's density")
    ] = UNSET
    volume_cm3: Annotated[
        VolumeLaid | UnsetType, member("the same as a volume, instead of mass_g")
    ] = UNSET
    layers: Annotated[LayersLaid, member("its layers, those of the highest piece")]
    actual_min: Annotated[TimedMinutes, member("the minutes that it printed")]

    one_way: ClassVar = (OneWay((Way(("mass_g",)), Way(("volume_cm3",)))),)


class CalibrationRequest(Sent, frozen=True, kw_only=True):
    """Builds of one machine, nozzle and profile. Needs scope ``cost``."""

    profile: Annotated[Code, member("how they were printed", refers_to="profiles")]
    machine: Annotated[Code, member("the printer", refers_to="machines")]
    nozzle: Annotated[
        Code | UnsetType, member("the nozzle that was fitted", refers_to="nozzles")
    ] = UNSET
    builds: Annotated[
        Annotated[list[TimedBuild], Meta(min_length=1, max_length=1_000)],
        member("large and small ones, low and high: else the two cannot be told apart"),
    ]


class CalibratedBuild(Answered, frozen=True, kw_only=True):
    """A build by the rates as they are, and as calibrated; a residual is actual less estimated."""

    name: str | UnsetType = UNSET
    actual_min: float
    estimated_min: float
    calibrated_min: float
    residual_min: float


class Calibration(Answered, frozen=True, kw_only=True):
    """What fits the timed builds best; nothing is saved.

    ``pace`` belongs to the machine, ``layer_change_s`` to the profile. ``fitted`` tells which of
    the two the builds say something of; the other one stands as it is in the rates, or at its
    bound. ``largest_residual_min`` is how far the worst build is still off.
    """

    pace: Decimal
    layer_change_s: Decimal
    fitted: list[str]
    largest_residual_min: float
    builds: list[CalibratedBuild]

"""The answer to a file that was measured.

Physical amounts are numbers, like all in answers.
"""

from datetime import datetime
from typing import Annotated, Literal

from msgspec import UNSET, UnsetType

from gramhour.contract.members import Answered, one_of

MeasurementWarning = Literal[
    "holes",
    "no_outside",
    "winding_mixed",
    "inside_out",
    "bodies_may_overlap",
    "unit_suspicious",
    "supports_left_out",
    "larger_than_every_machine",
    "walls_thinner_than_bead",
    "too_small_to_print",
]


class BoxSize(Answered, frozen=True, kw_only=True):
    """The bounding box, as the part stands in the file."""

    x_mm: float
    y_mm: float
    z_mm: float


class Warned(Answered, frozen=True, kw_only=True):
    """What a person should look at: a stable word, and a sentence."""

    warning: Annotated[str, one_of(MeasurementWarning)]
    says: str


class Estimate(Answered, frozen=True, kw_only=True):
    """What a part takes by a profile, estimated from its mesh layer by layer.

    ``piece_g`` and the volumes are of one piece, support included; ``build_g`` and ``print_min`` of
    a full build of ``pieces_per_build``, of which ``per_build_min`` are taken however full it is.
    What a part in no material weighs, and how long a build on no machine takes, is absent; so are
    pieces where the machine has no ``build_volume``, or the part does not fit.
    """

    basis: Annotated[str, one_of(Literal["estimated"])]
    profile: str
    machine: str | UnsetType = UNSET
    nozzle: str | UnsetType = UNSET
    material: str | UnsetType = UNSET
    volume_cm3: float
    support_cm3: float
    layers: int
    piece_g: float | UnsetType = UNSET
    pieces_per_build: int | UnsetType = UNSET
    build_g: float | UnsetType = UNSET
    print_min: float | UnsetType = UNSET
    per_build_min: float | UnsetType = UNSET


class Measurement(Answered, frozen=True, kw_only=True):
    """What a mesh file holds, all of its objects together.

    ``digest`` is the SHA-256 of the file. ``volume_cm3`` and ``mean_wall_mm`` are null where the
    surface is not watertight: an open surface holds no volume. ``mean_wall_mm`` is 2·V/A, which is
    the thickness of the wall of thin-walled shapes only. ``hollows`` are closed surfaces within
    bodies; their room is not in the volume.

    ``measurement`` is signed, so that it can be quoted until ``valid_until`` by the service that
    it was asked with; without a store there is nothing to sign with. ``estimates`` are told to who
    sees costs, by the profile that was named.
    """

    media_type: str
    digest: str
    volume_cm3: float | None
    area_cm2: float
    box: BoxSize
    triangles: int
    bodies: int
    hollows: int
    watertight: bool
    mean_wall_mm: float | None
    warnings: list[Warned]
    estimates: list[Estimate] | UnsetType = UNSET
    measurement: str | UnsetType = UNSET
    valid_until: datetime | UnsetType = UNSET

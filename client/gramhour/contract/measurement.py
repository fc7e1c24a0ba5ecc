"""The answer to a file that was measured.

Physical amounts are numbers, like all in answers.
"""

from typing import Annotated, Literal

from gramhour.contract.answer import one_of
from gramhour.contract.members import Answered

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


class Measurement(Answered, frozen=True, kw_only=True):
    """What a mesh file holds, all of its objects together.

    ``digest`` is the SHA-256 of the file. ``volume_cm3`` and ``mean_wall_mm`` are null where the
    surface is not watertight: an open surface holds no volume. ``mean_wall_mm`` is 2·V/A, which is
    the thickness of the wall of thin-walled shapes only. ``hollows`` are closed surfaces within
    bodies; their room is not in the volume.
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

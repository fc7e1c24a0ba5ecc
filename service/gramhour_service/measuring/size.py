"""Sizes of parts and machines, and what a person should look at. Needs no arrays."""

from decimal import Decimal
from typing import NamedTuple


class Box(NamedTuple):
    """A size along the three axes, in mm."""

    x: Decimal
    y: Decimal
    z: Decimal


class Plate(NamedTuple):
    """The room that a machine has, in mm."""

    x: Decimal
    y: Decimal
    z: Decimal


class Warned(NamedTuple):
    """What a person should look at: a stable word for programs, and a sentence."""

    word: str
    says: str


class Measured(NamedTuple):
    """What a mesh holds, in mm³, mm² and mm, to 3 decimals.

    The volume, and the wall with it, is absent where the surface is not watertight: what an open
    surface holds depends on where one looks from. ``mean_wall_mm`` is 2·V/A, which is the wall's
    thickness of thin-walled shapes only.
    """

    volume_mm3: Decimal | None
    area_mm2: Decimal
    box: Box
    triangles: int
    bodies: int
    hollows: int
    watertight: bool
    mean_wall_mm: Decimal | None
    warnings: tuple[Warned, ...]


def fits(box: Box, plate: Plate) -> bool:
    """Say whether a piece fits a room, as it stands or turned by a quarter about the upright."""
    across = zip(sorted((box.x, box.y)), sorted(plate[:2]), strict=True)
    return box.z <= plate.z and all(side <= room for side, room in across)


def size_of(box: Box | Plate) -> str:
    """Write a size."""
    return " × ".join(f"{side.normalize():f}" for side in box) + " mm"

"""Sizes of parts and machines, and what a person should look at. Needs no arrays."""

from decimal import Decimal
from typing import NamedTuple


class Box(NamedTuple):
    """A size along the three axes, in mm."""

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

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

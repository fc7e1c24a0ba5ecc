"""What a toolpath is measured with, and what is found."""

import math
from typing import NamedTuple

MM3_IN_CM3 = 1000


class Filament(NamedTuple):
    """What a tool is fed with: its diameter in mm and its density in g/cm³."""

    diameter_mm: float
    density_g_cm3: float

    @property
    def area_mm2(self) -> float:
        """The cross-section, in mm²."""
        return math.pi * self.diameter_mm**2 / 4

    def grams(self, length_mm: float) -> float:
        """The mass of a length of it, in g."""
        return length_mm * self.area_mm2 * self.density_g_cm3 / MM3_IN_CM3


class Fed(NamedTuple):
    """The filament that a tool was fed with in all, what was drawn back and not returned aside.

    ``filament_mm`` is the furthest that the filament ever came: a retraction and its return cancel
    out, and one at the end of the file takes nothing away from what was laid before it.
    """

    tool: int
    filament_mm: float
    volume_mm3: float
    grams: float


class Point(NamedTuple):
    """A place in the machine's coordinates, in mm."""

    x: float
    y: float
    z: float


class Box(NamedTuple):
    """The corners of the bounding box of where the nozzle's tip lays material, in mm.

    Half a bead's width is not in it, nor the first layer's height: ``low.z`` is where the nozzle
    is while it lays that layer.
    """

    low: Point
    high: Point


class NotRead(NamedTuple):
    """A code that is not carried out, and how often it stands there."""

    code: str
    times: int


class Toolpath(NamedTuple):
    """What the file makes the machine do.

    ``minutes`` are all of it, ``laying_minutes`` those in which the nozzle travels and lays.
    ``layers`` counts the heights at which material is laid on the level; what is laid while the
    nozzle climbs is no layer, and its moves are counted in ``climbing_moves``. The flows are of the
    moves that travel and lay, in mm³/s: ``mean_flow_mm3_s`` over their time, ``peak_flow_mm3_s``
    at the highest speed reached, over stretches of at least 1 mm.
    ``unfed_moves`` were made before any feed was named, at the machine's most.
    """

    fed: tuple[Fed, ...]
    minutes: float
    laying_minutes: float
    layers: int
    box: Box
    mean_flow_mm3_s: float
    peak_flow_mm3_s: float
    lines: int
    moves: int
    climbing_moves: int
    unfed_moves: int
    not_read: tuple[NotRead, ...]

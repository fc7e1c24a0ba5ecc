"""Arcs in the plane XY, given by their centre or by their radius."""

import math
from typing import NamedTuple

from gramhour_service.toolpath.faults import LineFault

ROUNDING_MM = 0.02
"""By how much a centre may miss because numbers in files are rounded, or a share of the radius."""

ROUNDING_SHARE = 0.005
FULL_TURN = 2 * math.pi


class Arc(NamedTuple):
    """A part of a circle: ``sweep`` in radians, positive counter-clockwise, ``start`` its angle."""

    centre_x: float
    centre_y: float
    radius: float
    start: float
    sweep: float

    @property
    def length(self) -> float:
        """How long it is in the plane: radius times angle."""
        return self.radius * abs(self.sweep)

    def direction(self, share: float) -> tuple[float, float]:
        """The unit tangent in the direction of travel, at a share of the way."""
        angle = self.start + share * self.sweep
        turn = math.copysign(1, self.sweep)
        return -turn * math.sin(angle), turn * math.cos(angle)

    def extremes(self) -> list[tuple[float, float]]:
        """Where it reaches furthest along an axis, its two ends aside."""
        low, high = sorted((self.start, self.start + self.sweep))
        quarter = math.pi / 2
        return [
            (
                self.centre_x + self.radius * math.cos(k * quarter),
                self.centre_y + self.radius * math.sin(k * quarter),
            )
            for k in range(math.ceil(low / quarter), math.floor(high / quarter) + 1)
        ]


def arc_about(
    x0: float, y0: float, x1: float, y1: float, i: float, j: float, *, clockwise: bool
) -> Arc:
    """The arc from a point to another about a centre that is (i, j) from the first.

    To the point itself it is a full circle. Raises ``LineFault``.
    """
    radius = math.hypot(i, j)
    if radius < ROUNDING_MM / 10:
        raise LineFault("the arc's centre is where it starts")
    missed = abs(math.hypot(x1 - x0 - i, y1 - y0 - j) - radius)
    if missed > max(ROUNDING_MM, ROUNDING_SHARE * radius):
        raise LineFault(f"the arc misses its end by {missed:.3g} mm")
    start = math.atan2(-j, -i)
    if x1 == x0 and y1 == y0:
        sweep = FULL_TURN
    else:
        end = math.atan2(y1 - y0 - j, x1 - x0 - i)
        sweep = ((start - end if clockwise else end - start) % FULL_TURN) or FULL_TURN
    return Arc(x0 + i, y0 + j, radius, start, -sweep if clockwise else sweep)


def arc_of_radius(
    x0: float, y0: float, x1: float, y1: float, radius: float, *, clockwise: bool
) -> Arc:
    """The arc from a point to another of a radius: the shorter one, the longer if it is negative.

    Raises ``LineFault``.
    """
    chord = math.hypot(x1 - x0, y1 - y0)
    if chord == 0:
        raise LineFault("an arc with R ends where it starts; give its centre with I and J")
    if chord / 2 > abs(radius) + max(ROUNDING_MM, ROUNDING_SHARE * abs(radius)):
        raise LineFault(f"an arc of radius {abs(radius):g} mm cannot span {chord:.6g} mm")
    to_centre = math.sqrt(max(0.0, radius**2 - chord**2 / 4))
    # Seen along the chord, the centre of a shorter counter-clockwise arc is on the left.
    side = -to_centre if clockwise == (radius > 0) else to_centre
    i = (x1 - x0) / 2 - side * (y1 - y0) / chord
    j = (y1 - y0) / 2 + side * (x1 - x0) / chord
    return arc_about(x0, y0, x1, y1, i, j, clockwise=clockwise)

"""How fast the nozzle may go: the machine's limits, and what they leave to one move."""

import math
from dataclasses import dataclass
from typing import NamedTuple

from gramhour_service.toolpath.arcs import Arc

SHORTEST_MM = 1e-9
"""Less than that is no movement: what is left when numbers in binary ought to cancel out."""


Direction = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Motion:
    """What the machine's drives can do. Speeds in mm/s, accelerations in mm/s².

    Along the path the speed is at most ``speed_mm_s`` and the feed that the file names; it rises
    by at most ``acceleration_mm_s2`` and falls by at most ``deceleration_mm_s2`` (absent: as it
    rises). The part of speed and acceleration that falls to the vertical axis is at most
    ``vertical_speed_mm_s`` and ``vertical_acceleration_mm_s2``; filament is fed at no more than
    ``filament_speed_mm_s``, and where it moves alone, with ``filament_acceleration_mm_s2`` (absent:
    as along the path).

    At a corner the velocity, as a vector, may change at once by ``corner_speed_change_mm_s``: if
    the path turns by the angle t, the speed there is at most that over 2 sin(t/2). A straight line
    is no corner however it is cut. On an arc of radius r the speed is at most
    √(acceleration · r). Before and after filament that moves alone, a dwell, a change of tool, and
    at both ends of the file the nozzle stands still.

    ``retraction_mm`` is what G10 draws back and G11 returns, at ``filament_speed_mm_s``.
    ``tool_change_s`` is what each change of tool takes.
    """

    speed_mm_s: float
    acceleration_mm_s2: float
    corner_speed_change_mm_s: float
    deceleration_mm_s2: float | None = None
    vertical_speed_mm_s: float | None = None
    vertical_acceleration_mm_s2: float | None = None
    filament_speed_mm_s: float | None = None
    filament_acceleration_mm_s2: float | None = None
    retraction_mm: float = 0.0
    tool_change_s: float = 0.0


class Way(NamedTuple):
    """One move as the drives see it: how long, how fast at most, which way it leaves and arrives.

    ``leaving`` and ``arriving`` are unit vectors.
    """

    length: float
    speed: float
    rise: float
    fall: float
    leaving: Direction
    arriving: Direction


class Drives:
    """The machine's limits, with everything filled in that is left open."""

    def __init__(self, motion: Motion) -> None:
        self.speed = motion.speed_mm_s
        self.rise = motion.acceleration_mm_s2
        self.fall = motion.deceleration_mm_s2 or self.rise
        self.corner = motion.corner_speed_change_mm_s
        self.vertical_speed = motion.vertical_speed_mm_s or math.inf
        self.vertical_rise = motion.vertical_acceleration_mm_s2 or math.inf
        self.filament_speed = motion.filament_speed_mm_s or self.speed
        self.filament_rise = motion.filament_acceleration_mm_s2 or self.rise
        self.filament_fall = motion.filament_acceleration_mm_s2 or self.fall

    def line(self, dx: float, dy: float, dz: float, fed: float, feed: float) -> Way | None:
        """A straight move at a feed in mm/s that feeds so much filament; None without length."""
        length = math.sqrt(dx * dx + dy * dy + dz * dz)
        if length < SHORTEST_MM:
            return None
        speed, rise, fall = min(feed, self.speed), self.rise, self.fall
        if abs(dz) > SHORTEST_MM:
            speed, rise, fall = self._climbing(abs(dz) / length, speed)
        if abs(fed) * speed > self.filament_speed * length:
            speed = self.filament_speed * length / abs(fed)
        direction = (dx / length, dy / length, dz / length)
        return Way(length, speed, rise, fall, direction, direction)

    def arc(self, arc: Arc, dz: float, fed: float, feed: float) -> Way | None:
        """A move along an arc, or a helix if it climbs; None without length."""
        length = math.hypot(arc.length, dz)
        if length < SHORTEST_MM:
            return None
        speed, rise, fall = min(feed, self.speed), self.rise, self.fall
        if abs(dz) > SHORTEST_MM:
            speed, rise, fall = self._climbing(abs(dz) / length, speed)
        if abs(fed) * speed > self.filament_speed * length:
            speed = self.filament_speed * length / abs(fed)
        level = arc.length / length
        if level > SHORTEST_MM:
            speed = min(speed, math.sqrt(self.rise * arc.radius) / level)
        x0, y0 = arc.direction(0)
        x1, y1 = arc.direction(1)
        climb = dz / length
        leaving, arriving = (x0 * level, y0 * level, climb), (x1 * level, y1 * level, climb)
        return Way(length, speed, rise, fall, leaving, arriving)

    def filament(self, fed: float, feed: float) -> Way:
        """Filament that moves alone; its direction is forth or back."""
        speed = min(feed, self.filament_speed)
        direction = (math.copysign(1, fed), 0.0, 0.0)
        return Way(abs(fed), speed, self.filament_rise, self.filament_fall, direction, direction)

    def _climbing(self, share: float, speed: float) -> tuple[float, float, float]:
        rise = self.vertical_rise / share
        return (
            min(speed, self.vertical_speed / share),
            min(self.rise, rise),
            min(self.fall, rise),
        )

    def at_corner(self, arriving: Direction, leaving: Direction) -> float:
        """The speed at which the velocity may change from one direction to another.

        Unit vectors at an angle t are 2 sin(t/2) apart.
        """
        apart = math.dist(arriving, leaving)
        return self.corner / apart if apart > 0 else math.inf

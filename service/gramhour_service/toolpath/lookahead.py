"""Moves that wait for their speeds: look-ahead over all of them, trapezoidal speed along each.

The speed at each join of two moves is the highest from which everything behind it can still be
reached and before which nothing is exceeded: at most the corner's limit, what can be gained since
the join before, and what can be lost until the join after. Between the joins a move's speed rises,
holds and falls. A join is settled when no move to come could change it; then the moves before it
are timed and forgotten.
"""

import math
from typing import NamedTuple

from gramhour_service.toolpath.motion import Direction, Drives, Way

TIMED_AT_ONCE = 2_048
MOST_WAITING = 1 << 17
"""So many moves wait at most; where half of them stay unsettled, the nozzle stops at the last."""

SHORTEST_STRETCH_MM = 1.0


class Waiting(NamedTuple):
    """A move whose speeds are not settled; squares of speeds, in mm²/s²."""

    gained: float  # the square of the speed at its start that what is before it allows
    length: float
    most: float
    rise: float
    fall: float
    laid_mm3: float


class Queue:
    """Takes moves in their order, and tells time and flow. All times in s."""

    def __init__(self, drives: Drives) -> None:
        self.seconds = 0.0
        self.laying_seconds = 0.0
        self.laid_mm3 = 0.0
        self.peak_flow = 0.0
        self._short_peak = 0.0
        self._drives = drives
        self._alone = False
        self._waiting: list[Waiting] = []
        self._plan_at = TIMED_AT_ONCE
        self._gained = 0.0  # the square of the speed that the last move can end with
        self._most = 0.0
        self._arriving: Direction | None = None
        self._stretch_mm = self._stretch_mm3 = self._stretch_speed = 0.0

    def add(self, way: Way, laid_mm3: float) -> None:
        """Take the next move of the nozzle, which joins the one before it."""
        if self._alone:
            self.stop()
            self._alone = False
        self._join(way, laid_mm3)

    def add_alone(self, way: Way) -> None:
        """Take filament that moves alone; it joins only what moves so too, the same way."""
        if not self._alone or way.leaving != self._arriving:
            self.stop()
            self._alone = True
        self._join(way, 0.0)

    def _join(self, way: Way, laid_mm3: float) -> None:
        length, speed, rise, fall, leaving, arriving = way
        most = speed * speed
        if self._arriving is None:
            gained = 0.0
        else:
            gained = min(self._gained, self._most, most)
            if leaving != self._arriving:
                corner = self._drives.at_corner(self._arriving, leaving)
                gained = min(gained, corner * corner)
        self._waiting.append(Waiting(gained, length, most, rise, fall, laid_mm3))
        self._gained = gained + 2 * rise * length
        self._most = most
        self._arriving = arriving
        if len(self._waiting) >= self._plan_at:
            self._time_the_settled()

    def stop(self, seconds: float = 0.0) -> None:
        """Come to a stand after the last move, and stand so long."""
        if self._waiting:
            self._time(len(self._waiting), self._allowed())
        self._end_stretch()
        self._arriving = None
        self._plan_at = TIMED_AT_ONCE
        self.seconds += seconds

    def finish(self) -> None:
        """Stop for good; without any longer stretch the short ones say what the peak is."""
        self.stop()
        self.peak_flow = self.peak_flow or self._short_peak

    def _allowed(self) -> list[float]:
        """The squares of the speeds at all joins, the last one a stand."""
        speeds = [0.0] * (len(self._waiting) + 1)
        after = 0.0
        for k in range(len(self._waiting) - 1, -1, -1):
            gained, length, _, _, fall, _ = self._waiting[k]
            after = min(gained, after + 2 * fall * length)
            speeds[k] = after
        return speeds

    def _time_the_settled(self) -> None:
        speeds = self._allowed()
        waiting = self._waiting
        settled = len(waiting) - 1
        while settled and speeds[settled] < waiting[settled].gained:
            settled -= 1
        self._time(settled, speeds)
        if len(waiting) > MOST_WAITING // 2:
            self.stop()
        # With much that is unsettled, looking again after each move would take for ever.
        self._plan_at = max(TIMED_AT_ONCE, 2 * len(self._waiting))

    def _time(self, count: int, speeds: list[float]) -> None:
        for k in range(count):
            _, length, most, rise, fall, laid = self._waiting[k]
            before, after = speeds[k], speeds[k + 1]
            if before == most == after:
                top = math.sqrt(most)
                seconds = length / top
            else:
                top, seconds = trapezoid(length, most, rise, fall, before, after)
            self.seconds += seconds
            if laid:
                self.laying_seconds += seconds
                self.laid_mm3 += laid
                self._flow(length, laid, top)
            elif self._stretch_mm:
                self._end_stretch()
        del self._waiting[:count]

    def _flow(self, length: float, laid: float, speed: float) -> None:
        """Short moves are taken together, for in them the file's rounding shows in the flow."""
        self._stretch_mm += length
        self._stretch_mm3 += laid
        self._stretch_speed = max(self._stretch_speed, speed)
        if self._stretch_mm >= SHORTEST_STRETCH_MM:
            flow = self._stretch_mm3 / self._stretch_mm * self._stretch_speed
            self.peak_flow = max(self.peak_flow, flow)
            self._stretch_mm = self._stretch_mm3 = self._stretch_speed = 0.0

    def _end_stretch(self) -> None:
        if self._stretch_mm:
            flow = self._stretch_mm3 / self._stretch_mm * self._stretch_speed
            self._short_peak = max(self._short_peak, flow)
            self._stretch_mm = self._stretch_mm3 = self._stretch_speed = 0.0


def trapezoid(
    length: float, most: float, rise: float, fall: float, before: float, after: float
) -> tuple[float, float]:
    """The highest speed and the time of a move, from the squares of its speeds.

    It rises from the square ``before``, holds at ``most`` if it comes to that, and falls to
    ``after``; otherwise it turns where the rising and the falling line meet.
    """
    top = min(most, (fall * before + rise * after + 2 * rise * fall * length) / (rise + fall))
    rising, falling = max(0.0, top - before) / (2 * rise), max(0.0, top - after) / (2 * fall)
    speed = math.sqrt(top)
    start, end = math.sqrt(before), math.sqrt(after)
    seconds = max(0.0, speed - start) / rise + max(0.0, speed - end) / fall
    return speed, seconds + max(0.0, length - rising - falling) / speed

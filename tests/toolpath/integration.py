"""The time of a path by numeric integration: another way to it than the reader's.

The path is cut into small steps. Each step has its speed limit; going along the path forwards and
then backwards, the speed is held to what the accelerations allow from step to step; the time is the
sum of the steps over their mean speeds. Corners are judged by their angle.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Leg(NamedTuple):
    """A straight or circular part: length in mm, limits, unit tangents at its two ends."""

    length: float
    speed: float
    rise: float
    fall: float
    leaving: tuple[float, float, float]
    arriving: tuple[float, float, float]


def angle(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    a, b = np.array(one), np.array(other)
    return math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b))


def integrated(legs: list[Leg], corner_speed_change: float, steps: int = 400) -> float:
    """The seconds from a stand at the start to a stand at the end, each leg in so many steps."""
    step = np.repeat([leg.length / steps for leg in legs], steps)
    rise = 2 * step * np.repeat([leg.rise for leg in legs], steps)
    fall = 2 * step * np.repeat([leg.fall for leg in legs], steps)
    limits = _limits(legs, corner_speed_change, steps)
    squares: list[float] = (limits**2).tolist()
    for k, gain in enumerate(rise.tolist()):
        squares[k + 1] = min(squares[k + 1], squares[k] + gain)
    for k, loss in reversed(list(enumerate(fall.tolist()))):
        squares[k] = min(squares[k], squares[k + 1] + loss)
    speeds = np.sqrt(squares)
    return float((2 * step / (speeds[:-1] + speeds[1:])).sum())


def _limits(legs: list[Leg], corner_speed_change: float, steps: int) -> NDArray[np.float64]:
    """The speed limit at each end of a step."""
    limits = np.empty(len(legs) * steps + 1)
    for k, leg in enumerate(legs):
        limits[k * steps : (k + 1) * steps + 1] = leg.speed
    for k in range(1, len(legs)):
        before, after = legs[k - 1], legs[k]
        bend = 2 * math.sin(angle(before.arriving, after.leaving) / 2)
        corner = corner_speed_change / bend if bend > 1e-12 else math.inf
        limits[k * steps] = min(before.speed, after.speed, corner)
    limits[0] = limits[-1] = 0
    return limits

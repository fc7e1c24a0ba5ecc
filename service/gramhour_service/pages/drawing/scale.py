"""From amounts to places in a drawing, and which round amounts to write beside it.

Only where a stroke stands is computed here, in floats; the figures that are read beside it are
the answer's own texts.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""What people count in, times a power of ten."""


class Scale(NamedTuple):
    """Maps amounts from ``least`` to ``most`` to places from ``start`` to ``end``.

    A ``logarithmic`` one gives 1 to 10 as much room as 10 to 100; its amounts are above 0.
    """

    least: float
    most: float
    start: float
    end: float
    logarithmic: bool = False

    def at(self, amount: float) -> float:
        """Say the place of an amount."""
        least, most, asked = map(self._drawn, (self.least, self.most, amount))
        if most == least:
            return (self.start + self.end) / 2
        return self.start + (asked - least) / (most - least) * (self.end - self.start)

    def _drawn(self, amount: float) -> float:
        return math.log10(amount) if self.logarithmic else amount


def round_amounts(least: float, most: float, about: int = 4) -> list[float]:
    """Choose about so many round amounts, evenly spaced, from not above least to not below most."""
    span = most - least or abs(most) or 1.0
    power = 10.0 ** math.floor(math.log10(span / about))
    step = next(each * power for each in STEPS if each * power >= span / about * (1 - 1e-9))
    first, last = math.floor(least / step + 1e-9), math.ceil(most / step - 1e-9)
    return [round(each * step, 12) for each in range(first, last + 1)]


def apart(places: Sequence[float], gap: float) -> list[bool]:
    """Say which of rising places can be written at, so that what stands there keeps a gap.

    The first and the last always can.
    """
    told = [False] * len(places)
    kept: list[float] = []
    for n in dict.fromkeys((0, len(places) - 1, *range(len(places)))) if places else ():
        if all(abs(places[n] - other) >= gap for other in kept) or n in (0, len(places) - 1):
            told[n] = True
            kept.append(places[n])
    return told

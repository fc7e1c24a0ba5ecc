"""The quantities that listed prices hold for, as arrays: said once for all that is sold alike."""

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.calculation.builds import pieces_needed
from gramhour_service.calculation.kept import MOST_KEPT
from gramhour_service.calculation.stretch import MOST_UNITS, stretch_of

Floats = NDArray[np.float64]


class Stretches(NamedTuple):
    """The quantities that the prices of some breaks hold for, and each break's place in them.

    They are those of their ``key``: the breaks, and of how many units a channel sells multiples.
    """

    key: tuple[tuple[int, ...], int]
    quantities: tuple[int, ...]
    spans: tuple[range, ...]
    numbers: Floats

    @property
    def breaks(self) -> tuple[int, ...]:
        """The quantities that prices hold from."""
        return self.key[0]

    @property
    def multiple(self) -> int:
        """Of how many units multiples are sold."""
        return self.key[1]

    def goes_on_from(self, span: range) -> tuple[int, int]:
        """Say after which quantity a stretch goes on that is not looked at, and up to which.

        The last one goes on to the largest order; a very long one to its end.
        """
        *_, before, end = (0, *self.quantities[span.start : span.stop])
        is_cut = before and end - before > self.multiple
        is_last = span.stop == len(self.quantities)
        return before if is_cut else end, MOST_UNITS + 1 if is_last else end

    def drawn_out(self, each: Sequence[float]) -> Floats:
        """Repeat an amount of each break over all of its quantities."""
        return np.repeat(each, [len(span) for span in self.spans])

    def each(self, amounts: Sequence[float]) -> Floats:
        """Put together an amount of each quantity."""
        return np.array(amounts, np.float64)


@lru_cache(MOST_KEPT)
def stretches_of(breaks: tuple[int, ...], multiple: int) -> Stretches:
    """Put together the quantities of all breaks that a channel sells in such multiples."""
    quantities: list[int] = []
    spans = []
    for quantity, following in zip(breaks, (*breaks[1:], None), strict=True):
        stretch = stretch_of(quantity, following, multiple)
        spans.append(range(len(quantities), len(quantities) + len(stretch)))
        quantities += stretch
    numbers = np.array(quantities, np.float64)
    return Stretches((breaks, multiple), tuple(quantities), tuple(spans), numbers)


@lru_cache(MOST_KEPT)
def _counted(
    breaks: tuple[int, ...], multiple: int, count: int, size: int
) -> tuple[Floats, NDArray[np.intp]]:
    needed = [pieces_needed(q, count) for q in stretches_of(breaks, multiple).quantities]
    full, left = np.divmod(np.array(needed, np.intp), size)
    return full.astype(np.float64), left


def builds_counted(stretches: Stretches, count: int, size: int) -> tuple[Floats, NDArray[np.intp]]:
    """Count the full builds of a piece, and the pieces left over, at all quantities."""
    return _counted(*stretches.key, count, size)

"""Numbers that are many at once: one for each of many listings, in an array of binary floats.

The calculation's own functions compute with them as with decimals. Each knows how far it can be
from the decimals that they would have made (``off``), and of how many decimals the exact amounts
are, where that is known (``places``). A comparison that this leaves open is never guessed: whose
it is goes into ``Doubts``, and is computed apart.
"""

from contextlib import suppress
from decimal import Context, Decimal, Inexact, InvalidOperation
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.calculation.arithmetic import LAST_PLACE

Floats = NDArray[np.floating[Any]]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]
FINEST = 15
"""Decimals beyond which nothing is made of knowing them."""

MOST_TOLD = 1e18
MOST_LOOKED_FOR = 10
EXACT = Context(prec=30, traps=[Inexact, InvalidOperation])
"""Rounding in it is refused."""


class Doubts:
    """For which of many something was left open."""

    def __init__(self, size: int) -> None:
        """Begin with no doubt about so many."""
        self.mask: Mask = np.zeros(size, np.bool_)

    def note(self, mask: Mask) -> None:
        """Note for whom something is open."""
        self.mask |= mask


class Known(NamedTuple):
    """One number beside many: its float, how far that is off, and its decimals where known."""

    x: Any
    off: float
    top: float
    places: int | None


@lru_cache(maxsize=10_000)
def known(number: Decimal | int, dtype: Any) -> Known:
    """Take one decimal or whole number in floats of a kind."""
    exact = Decimal(number)
    x = dtype(str(exact))
    off = abs(float(x)) * last_bit(dtype)
    return Known(x, off, abs(float(x)) + off, _decimals(exact))


def _decimals(exact: Decimal) -> int | None:
    exponent = exact.as_tuple().exponent
    assert isinstance(exponent, int), "amounts are finite"
    return max(0, -exponent) if -exponent <= FINEST else None


@lru_cache(maxsize=1_000)
def _decimals_by_division(divisor: Decimal | int) -> int | None:
    """Say how many decimals a division adds at most; none are known where it never comes out."""
    return _decimals(1 / Decimal(divisor))


def last_bit(dtype: Any) -> float:
    """Say by what share an operation on floats can be off: twice what it must be."""
    return 2 * float(np.finfo(dtype).eps)


class Many:
    """Many numbers: ``x`` each, none more than ``off`` from what is exact, none above ``top``."""

    __array_ufunc__ = None
    __slots__ = ("doubts", "off", "places", "top", "x")

    def __init__(
        self, x: Floats, off: float, top: float, places: int | None, doubts: Doubts
    ) -> None:
        """Take floats and what is known of them; ``doubts`` are of the listings they are for."""
        self.x, self.off, self.top, self.doubts = x, off, top + off, doubts
        self.places = None if places is None or places > FINEST else places

    @property
    def dtype(self) -> Any:
        """The kind of their floats."""
        return self.x.dtype.type

    @property
    def bit(self) -> float:
        """By what share an operation on them can be off."""
        return last_bit(self.dtype)

    def _made(self, x: Floats, off: float, top: float, places: int | None) -> "Many":
        return Many(x, off + self.bit * (top + off), top, places, self.doubts)

    def _operand(self, other: "Number") -> "Many | Known":
        return other if isinstance(other, Many) else known(other, self.dtype)

    def __add__(self, other: "Number", /) -> "Many":
        o = self._operand(other)
        return self._made(self.x + o.x, self.off + o.off, self.top + o.top, finest(self, o))

    __radd__ = __add__

    def __neg__(self) -> "Many":
        return Many(-self.x, self.off, self.top, self.places, self.doubts)

    def __sub__(self, other: "Number", /) -> "Many":
        o = self._operand(other)
        return self._made(self.x - o.x, self.off + o.off, self.top + o.top, finest(self, o))

    def __rsub__(self, other: "Number", /) -> "Many":
        return -self + other

    def __mul__(self, other: "Number", /) -> "Many":
        o = self._operand(other)
        both = self.places is not None and o.places is not None
        places = (self.places or 0) + (o.places or 0) if both else None
        off = self.off * o.top + o.off * self.top
        return self._made(self.x * o.x, off, self.top * o.top, places)

    __rmul__ = __mul__

    def __truediv__(self, other: "Number", /) -> "Many":
        if isinstance(other, Many):
            return self._by_many(other)
        o, more = known(other, self.dtype), _decimals_by_division(other)
        least = abs(float(o.x)) - o.off
        places = None if more is None or self.places is None else self.places + more
        off = (self.off + o.off * self.top / least) / least
        return self._made(self.x / o.x, off, self.top / least, places)

    def __rtruediv__(self, other: Decimal | int, /) -> "Many":
        o = known(other, self.dtype)
        return Many(np.full_like(self.x, o.x), o.off, o.top, o.places, self.doubts) / self

    def _by_many(self, other: "Many") -> "Many":
        """Divide by many; a divisor that may be 0 is left open."""
        size = np.abs(other.x)
        nothing = size <= 4 * other.off
        self.doubts.note(nothing)
        least = float(np.where(nothing, 1, size).min(initial=1)) - other.off
        top = self.top / least
        x = self.x / np.where(nothing, 1, other.x)
        return self._made(x, (self.off + other.off * top) / least, top, None)

    def __lt__(self, other: "Number", /) -> Mask:
        return self._compared(other) < 0

    def __gt__(self, other: "Number", /) -> Mask:
        return self._compared(other) > 0

    def __ge__(self, other: "Number", /) -> Mask:
        return self._compared(other) >= 0

    def __le__(self, other: "Number", /) -> Mask:
        return self._compared(other) <= 0

    def _compared(self, other: "Number") -> Floats:
        """Subtract another; what may be 0 is, or is left open."""
        beyond = self - other
        near = np.abs(beyond.x) <= beyond.off
        if near.any():
            if not beyond.is_on_grid(beyond.off):
                self.doubts.note(near)
            beyond.x[near] = 0
        return beyond.x

    def __bool__(self) -> bool:
        """Refuse: a rule that asks whether there is any amount must be given for many."""
        raise TypeError("many numbers are not one: give the rule that asks in calculating.py")

    def is_on_grid(self, off: float) -> bool:
        """Say whether so near to an amount of their decimals there is none of them but itself."""
        return self.places is not None and 2 * off < 10.0**-self.places

    def taken(self, places: Places, doubts: Doubts) -> "Many":
        """Take those at some places, each as often as it is named."""
        return Many(self.x[places], self.off, self.top, self.places, doubts)

    def whole(self, places: int) -> NDArray[np.int64]:
        """Say rounded numbers as whole numbers of their last place; too large ones as nothing."""
        whole = np.rint(self.x * 10.0**places)
        told: NDArray[np.int64] = np.where(np.abs(whole) < MOST_TOLD, whole, 0).astype(np.int64)
        return told


Number = Many | Decimal | int


def finest(one: Many, other: Many | Known) -> int | None:
    """Say of how many decimals two numbers are, where both are known."""
    if one.places is None or other.places is None:
        return None
    return max(one.places, other.places)


def of_wholes(wholes: NDArray[np.int64], places: int, dtype: Any, doubts: Doubts) -> Many:
    """Take whole numbers of the last place of so many decimals."""
    x = wholes.astype(dtype) / 10.0**places
    top = float(np.abs(x).max())
    return Many(x, top * last_bit(dtype), top, places, doubts)


def column(values: list[Decimal], dtype: Any, doubts: Doubts) -> Number:
    """Put one number of each of many into an array; where all are the same it is that one."""
    first = values[0]
    if values.count(first) == len(values):
        return first
    texts = values if dtype is np.float64 else [str(value) for value in values]
    x = np.array(texts).astype(dtype)
    top = float(np.abs(x).max())
    return Many(x, top * last_bit(dtype), top, _decimals_of_all(values), doubts)


def _decimals_of_all(values: list[Decimal]) -> int | None:
    """Say how many decimals none of several amounts has more of."""
    for places in range(MOST_LOOKED_FOR):
        with suppress(Inexact):
            for value in values:
                value.quantize(LAST_PLACE[places], None, EXACT)
            return places
    return None

"""Roundings of many numbers at once, as the calculation rounds decimals.

Half even after 12 decimals, half up without: what the floats leave open is noted as a doubt.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np

from gramhour_service.calculation import arithmetic
from gramhour_service.repricing.alike.many import Floats, Many, Number

CLEAN_PLACES = 12
NOISE = 0.5 * 10.0**-CLEAN_PLACES
"""So near to a tie an amount is one once it is rounded to 12 decimals."""
TOO_LARGE = 1e10
"""Beyond it floats have no room for decimals; such amounts are left to the calculation."""


def half_even(amount: Number, places: int) -> Any:
    """Round half even to so many decimals, after 12 decimals."""
    if not isinstance(amount, Many):
        return arithmetic.half_even(Decimal(amount), places)
    return _rounded(amount, places, NOISE if places < CLEAN_PLACES else 0.0, _to_even)


def half_up(amount: Number, places: int) -> Any:
    """Round half up to so many decimals."""
    if not isinstance(amount, Many):
        return arithmetic.half_up(Decimal(amount), places)
    return _rounded(amount, places, 0.0, _away_from_zero)


def _to_even(ties: Floats) -> Floats:
    below = np.floor(ties)
    return below + np.fmod(np.abs(below), 2)


def _away_from_zero(ties: Floats) -> Floats:
    return np.where(ties < 0, np.floor(ties), np.ceil(ties))


def _rounded(number: Many, places: int, noise: float, at_a_tie: Callable[[Floats], Floats]) -> Many:
    """Round to so many decimals; what is within ``noise`` of a tie is one."""
    scale = 10.0**places
    scaled = number.x * scale
    whole = np.rint(scaled)
    off = number.off + number.bit * number.top
    to_tie = 0.5 - np.abs(scaled - whole)
    near = to_tie <= (off + noise) * scale
    if near.any():
        whole[near] = at_a_tie(scaled[near])
        if not (number.is_on_grid(off + noise) and (number.places or 0) > places):
            number.doubts.note(near & (to_tie + off * scale >= noise * scale))
    x = whole / scale
    top = float(np.abs(x).max(initial=0))
    if top > TOO_LARGE:
        number.doubts.note(np.abs(x) > TOO_LARGE)
    return Many(x, number.bit * top, top, places, number.doubts)

"""Labour learning: Crawford's unit curve."""

import math
from decimal import Decimal
from functools import lru_cache

from gramhour_service.calculation.arithmetic import half_even
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import computed, followed

ALL_LEARNT = 100


@rule
def learning_exponent(learning_pct: Decimal) -> float:
    """Unit k takes k^b of the first unit's time, b = log2(L/100)."""
    return math.log2(float(learning_pct) / 100)


@lru_cache(maxsize=64)
def _unit_times(exponent: float, learning_until: int) -> list[float]:
    return [k**exponent for k in range(1, learning_until + 1)]


@lru_cache(maxsize=4096)
def _sum_of_times(
    exponent: float, learning_until: int, first: int, learning: int, at_the_end: int
) -> Decimal:
    """Add up the times of so many learning units from the first on, and of those at the end."""
    times = _unit_times(exponent, learning_until)
    total = math.fsum(times[first - 1 : first - 1 + learning]) + at_the_end * times[-1]
    return Decimal(repr(total))


@rule
def times_at_the_end(quantity: int, made_before: int, learning_until: int) -> int:
    """From unit learning_until on nothing is learnt: all later units take as long as it."""
    return min(quantity, max(0, made_before + quantity - learning_until))


@rule
def first_unit(made_before: int) -> int:
    """Units made before are behind us: the order begins with the next one."""
    return made_before + 1


@rule
def learning_factor(
    quantity: int, learning_pct: Decimal, learning_until: int, made_before: int
) -> Decimal:
    """The order's units take the sum of their unit times, in first-unit times, to 6 decimals."""
    if learning_pct == ALL_LEARNT:
        return Decimal(quantity)
    at_the_end = times_at_the_end(quantity, made_before, learning_until)
    total = _sum_of_times(
        learning_exponent(learning_pct),
        learning_until,
        first_unit(made_before),
        quantity - at_the_end,
        at_the_end,
    )
    limit = "min(k, {3})" if at_the_end else "k"
    units = "{1} + 1 to {1} + {2}" if made_before else "1 to {2}"
    formula = f"sum({limit}^log2({{0}} / 100) for k = {units})"
    told = computed(total, formula, learning_pct, made_before, quantity, learning_until)
    return followed(half_even(told, 6))

"""The calculation bound to many numbers at once: the same code, other numbers.

Only the rules that compare, search or compute in floats are given once more, for all of them.
"""

from collections.abc import Callable, Iterable
from decimal import Decimal
from functools import reduce
from typing import Any

import numpy as np

from gramhour_service.calculation import (
    aim,
    build,
    builds,
    components,
    costs,
    design,
    energy,
    failures,
    feedstock,
    fees,
    labour,
    machine,
    nozzle_wear,
    overheads,
    price,
    rejects,
    scrap,
    settle,
)
from gramhour_service.calculation.job import MarginAim, MarkupAim
from gramhour_service.calculation.rebinding import rebound
from gramhour_service.calculation.settle import Sale, Settled
from gramhour_service.repricing.alike.many import Many, Number, column, known
from gramhour_service.repricing.alike.rounding import CLEAN_PLACES, half_even, half_up

CALCULATION = (
    aim, build, builds, components, costs, design, energy, failures, feedstock, fees, labour,
    machine, nozzle_wear, overheads, price, rejects, scrap, settle,
)  # fmt: skip
MOST_STEPS = 4
"""Price steps that all are tried at; who needs more is computed apart."""
LAST_BITS = 2.0**-50
"""By what share exponentials of two libraries can differ."""


def as_line(amount: Number) -> Any:
    """Round a cost line: 4 decimals."""
    return half_even(amount, 4)


def as_percentage(amount: Number) -> Any:
    """Round a percentage: 2 decimals."""
    return half_even(amount, 2)


def _larger(one: Number, other: Number) -> Number:
    """Take the larger of two for each."""
    if not isinstance(one, Many):
        one, other = other, one
    if not isinstance(one, Many):
        return max(one, other)
    o = other if isinstance(other, Many) else known(other, one.dtype)
    decimals = None if one.places is None or o.places is None else max(one.places, o.places)
    return Many(
        np.maximum(one.x, o.x), max(one.off, o.off), max(one.top, o.top), decimals, one.doubts
    )


def goods_value(unit_price: Number, units: int, minimum_order: Decimal) -> Number:
    """The goods are the unit price times the units, at least the channel's minimum order."""
    return _larger(unit_price * units, minimum_order)


def largest_failure_factor(factors: Iterable[Number]) -> Number:
    """Of a piece's materials the one with the largest failure factor decides."""
    return reduce(_larger, factors)


def _exponential(x: Many, of: Any, steepest: float) -> Many:
    """Take an exponential of each; it moves by at most ``steepest`` where its number moves by 1.

    The calculation takes them in binary floats, whatever decimals it has.
    """
    worth = of(x.x.astype(np.float64)).astype(x.x.dtype)
    top = float(np.abs(worth).max())
    off = (x.off + 2.0**-53 * x.top) * steepest + LAST_BITS * (1 + top)
    return Many(worth, off, top, None, x.doubts)


def _of_each(number: Many, rule: Callable[[Decimal], Decimal]) -> Number:
    """Ask a rule that takes its number as a binary float, and rounds, of each by itself.

    Finer floats do not help where it is the rounding of that float's exponential that is open.
    """
    least, most = (number.x + off for off in (-number.off, number.off))
    number.doubts.note(least.astype(np.float64) != most.astype(np.float64))
    found = column(
        [rule(Decimal(x)) for x in number.x.astype(np.float64).tolist()],
        number.dtype,
        number.doubts,
    )
    if isinstance(found, Many):
        found.places = CLEAN_PLACES
    return found


def chance_by_hours(expected: Number, start_share: Decimal) -> Any:
    """Hours form: a start that holds survives x expected failures with chance e^(−x)."""
    if not isinstance(expected, Many):
        return failures.chance_by_hours(Decimal(expected), start_share)
    if expected.dtype is np.longdouble:
        return _of_each(expected, lambda x: failures.chance_by_hours(x, start_share))
    return half_even(start_share * _exponential(expected, lambda x: np.exp(-x), 1.0), 12)


def wasted_by_hours(expected: Number) -> Any:
    """Hours form: restarting from nothing wastes (e^x − 1)/x − 1 builds, 0 for x = 0."""
    if not isinstance(expected, Many):
        return failures.wasted_by_hours(Decimal(expected))
    if expected.dtype is np.longdouble:
        return _of_each(expected, failures.wasted_by_hours)
    steepest = float(np.exp(min(expected.top, 100.0)))
    return half_even(_exponential(expected, _wasted, steepest), 12)


def _wasted(x: Any) -> Any:
    divisor = np.where(x == 0, 1, x)
    return np.where(x == 0, 0, np.expm1(divisor) / divisor - 1)


def failed_starts(chance: Number) -> Any:
    """1/p starts are expected for a good build: 1/p − 1 of them fail."""
    return 1 / chance - 1 if isinstance(chance, Many) else failures.failed_starts(Decimal(chance))


def first_allowed_step(raw_price: Number, step: Decimal, ending: Decimal) -> Any:
    """Allowed prices are whole steps plus the ending, above 0; none below the raw one is."""
    if not isinstance(raw_price, Many):
        return price.first_allowed_step(Decimal(raw_price), step, ending)
    steps = (raw_price - ending) / step
    whole = np.rint(steps.x)
    near = np.abs(steps.x - whole) <= steps.off
    if near.any() and not steps.is_on_grid(steps.off):
        steps.doubts.note(near)
    least = 0 if ending > 0 else 1
    x = np.maximum(np.where(near, whole, np.ceil(steps.x)), least)
    return Many(x, 0.0, float(x.max()), 0, steps.doubts)


def smallest_allowed_price(sale: Sale, aim: MarginAim | MarkupAim, raw: Decimal) -> Settled:
    """The price is the smallest allowed one, not below the raw one, that meets the aim."""
    step, ending = sale.channel.price_step, sale.channel.price_ending
    steps = first_allowed_step(raw, step, ending)
    if not isinstance(steps, Many):
        return price.smallest_allowed_price(sale, aim, raw)
    tries = 0
    while True:
        unit_price = half_up(bound.price_of_step(steps, step, ending), sale.digits)
        settled: Settled = bound.settle(sale, unit_price)
        missed = ~bound.aim_is_met(aim, settled.profit, settled.net, sale.cost)
        tries += 1
        if tries == MOST_STEPS:
            steps.doubts.note(missed)
        if tries == MOST_STEPS or not missed.any():
            return settled
        steps = Many(steps.x + missed, 0.0, steps.top + 1, 0, steps.doubts)


def margin_pct(profit: Number, net: Number) -> Any:
    """Margin is profit in per cent of the net; where there is none it is left open."""
    if isinstance(net, Many) or isinstance(profit, Many):
        share: Any = profit * 100 / net
        return as_percentage(share)
    return settle.margin_pct(Decimal(profit), Decimal(net))


FOR_MANY: dict[str, Any] = {
    function.__name__: function
    for function in (
        half_even, half_up, as_line, as_percentage, goods_value, largest_failure_factor,
        chance_by_hours, wasted_by_hours, failed_starts, first_allowed_step,
        smallest_allowed_price, margin_pct,
    )
}  # fmt: skip

bound = rebound(CALCULATION, FOR_MANY, lambda function: function)

"""Calibration: a machine's pace and its change of layer, from builds that the shop has timed."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import half_even

SECONDS_OF_MINUTE = 60


class Timed(NamedTuple):
    """A build that was printed.

    ``flow_min`` are the minutes that its volume takes at full flow (pace 1, no change of layer),
    ``layers`` its layers, ``actual_min`` the minutes it took.
    """

    flow_min: Decimal
    layers: int
    actual_min: Decimal


class Calibration(NamedTuple):
    """What fits the timed builds best; ``residuals_min`` is actual less estimated, per build.

    ``fitted`` tells which of the two were found; the other one stands at its bound or as given.
    """

    pace: Decimal
    layer_change_s: Decimal
    residuals_min: tuple[Decimal, ...]
    fitted: tuple[str, ...]


class CannotCalibrate(Exception):
    """The timed builds tell nothing; the words say what is missing."""


def calibrate(timed: Sequence[Timed], layer_change_s: Decimal) -> Calibration:
    """Pace and change of layer are those with the least sum of squared residuals.

    Actual minutes are taken as flow minutes/pace + layers · change/60, which is linear in 1/pace
    and the change. Pace is a share of time at speed, at most 1, and no change takes less than 0 s:
    what would leave those bounds is set to the bound, and the other one fitted alone. Builds that
    cannot tell the two apart (one build, or all alike) fit the pace, with ``layer_change_s``
    given. Raises ``CannotCalibrate``.
    """
    if not timed or all(not build.flow_min for build in timed):
        raise CannotCalibrate("calibrating needs at least one build that laid something down")
    slowness, change = _both(timed) or (None, Fraction(layer_change_s))
    fitted: tuple[str, ...] = ("pace", "layer_change_s")
    if slowness is None:
        slowness, fitted = _slowness_alone(timed, change), ("pace",)
    elif change < 0:
        change = Fraction(0)
        slowness, fitted = _slowness_alone(timed, change), ("pace",)
    if slowness < 1:
        slowness = Fraction(1)
        change = max(Fraction(0), _change_alone(timed)) if len(fitted) > 1 else change
        fitted = fitted[1:]
    residuals = tuple(
        _decimal(
            Fraction(build.actual_min)
            - Fraction(build.flow_min) * slowness
            - build.layers * change / SECONDS_OF_MINUTE,
            2,
        )
        for build in timed
    )
    return Calibration(_decimal(1 / slowness, 4), _decimal(change, 2), residuals, fitted)


def _both(timed: Sequence[Timed]) -> tuple[Fraction, Fraction] | None:
    """Solve the two normal equations exactly; nothing if they are one."""
    flows = [Fraction(build.flow_min) for build in timed]
    changes = [Fraction(build.layers, SECONDS_OF_MINUTE) for build in timed]
    actual = [Fraction(build.actual_min) for build in timed]
    ff, fc, cc = _product(flows, flows), _product(flows, changes), _product(changes, changes)
    fa, ca = _product(flows, actual), _product(changes, actual)
    determinant = ff * cc - fc * fc
    if not determinant:
        return None
    return (fa * cc - ca * fc) / determinant, (ca * ff - fa * fc) / determinant


def _slowness_alone(timed: Sequence[Timed], change: Fraction) -> Fraction:
    flows = [Fraction(build.flow_min) for build in timed]
    rest = [Fraction(b.actual_min) - b.layers * change / SECONDS_OF_MINUTE for b in timed]
    return _product(flows, rest) / _product(flows, flows)


def _change_alone(timed: Sequence[Timed]) -> Fraction:
    changes = [Fraction(build.layers, SECONDS_OF_MINUTE) for build in timed]
    rest = [Fraction(build.actual_min) - Fraction(build.flow_min) for build in timed]
    layers = _product(changes, changes)
    return _product(changes, rest) / layers if layers else Fraction(0)


def _product(some: Sequence[Fraction], others: Sequence[Fraction]) -> Fraction:
    return sum((a * b for a, b in zip(some, others, strict=True)), Fraction(0))


def _decimal(amount: Fraction, places: int) -> Decimal:
    return half_even(Decimal(amount.numerator) / Decimal(amount.denominator), places)

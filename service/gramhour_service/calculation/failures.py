"""Failed builds: the chance that a start comes out good, and what is wasted until one does.

``p`` is that chance (1/p starts are expected), ``r`` the builds' worth wasted until success.
"""

import math
from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ONE, ZERO, half_even
from gramhour_service.calculation.job import Piece, YieldForm
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called, computed, followed

LONGEST = 10
"""Mean failures within one build from which on it is said never to end."""


class Chances(NamedTuple):
    """How one build fares: ``good`` is p, ``wasted`` is r, ``failed_starts`` is 1/p − 1."""

    good: Decimal
    wasted: Decimal
    failed_starts: Decimal


@rule
def chance_by_yield(machine_yield: Decimal, material_yields: Iterable[Decimal]) -> Decimal:
    """Yield form: a start comes out good by the machine's yield times each distinct material's."""
    chance = machine_yield
    for share in material_yields:
        chance = chance * share
    return chance


@rule
def chance_of_piece(by_yield: Decimal, own_yield: Decimal | None) -> Decimal:
    """A piece's own yield takes the place of the machine's and its materials'."""
    return by_yield if own_yield is None else own_yield


@rule
def wasted_by_yield(chance: Decimal, loss_share: Decimal) -> Decimal:
    """Yield form: (1 − p)/p starts fail for each good one, each wasting the loss at failure."""
    return (1 - chance) / chance * loss_share


@rule
def largest_failure_factor(factors: Iterable[Decimal]) -> Decimal:
    """Of a piece's materials the one with the largest failure factor decides."""
    return max(factors)


@rule
def failures_expected(minutes: Decimal, factor: Decimal, hours_between: Decimal) -> Decimal:
    """Hours form: a build meets its hours times the failure factor over the hours between."""
    return minutes * factor / (60 * hours_between)


@rule
def chance_by_hours(expected: Decimal, start_share: Decimal) -> Decimal:
    """Hours form: a start that holds survives x expected failures with chance e^(−x)."""
    survives = computed(Decimal(repr(math.exp(-float(expected)))), "exp(-{})", expected)
    return followed(half_even(start_share * survives, 12))


@rule
def wasted_by_hours(expected: Decimal) -> Decimal:
    """Hours form: restarting from nothing wastes (e^x − 1)/x − 1 builds, 0 for x = 0."""
    x = float(expected)
    if not x:
        return ZERO
    worth = Decimal(repr(math.expm1(x) / x - 1))
    return followed(half_even(computed(worth, "(exp({0}) - 1) / {0} - 1", expected), 12))


@rule
def failed_starts(chance: Decimal) -> Decimal:
    """1/p starts are expected for a good build: 1/p − 1 of them fail."""
    return ZERO if chance == ONE else 1 / chance - 1


def chances(piece: Piece, minutes: Decimal, fill: str) -> Chances:
    """Say how a build of a piece that prints so many minutes fares; ``fill`` is how full it is."""
    failures = piece.machine.failures
    if isinstance(failures, YieldForm):
        materials = {feed.material.code: feed.material for feed in piece.feeds}.values()
        by_yield = chance_by_yield(failures.yield_share, (m.yield_share for m in materials))
        good = chance_of_piece(by_yield, piece.own_yield_share)
        wasted = wasted_by_yield(good, failures.loss_share)
    else:
        factor = largest_failure_factor([feed.material.failure_factor for feed in piece.feeds])
        expected = called(
            failures_expected(minutes, factor, failures.hours_between_failures),
            *("failures_expected", piece.number, fill),
        )
        good = chance_by_hours(expected, failures.start_share)
        wasted = wasted_by_hours(expected)
    return Chances(good, wasted, failed_starts(good))

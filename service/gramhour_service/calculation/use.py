"""Physical totals of an order: what it takes with failures and rejects in it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.builds import BuildPlan
from gramhour_service.calculation.labour import LabourMinutes
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called


class Use(NamedTuple):
    """Unrounded totals; ``builds`` counts the good builds alone."""

    feedstock_g: dict[str, Decimal]
    machine_h: Decimal
    machine_h_by: dict[str, Decimal]
    builds: int
    build_starts: Decimal
    labour_min: Decimal
    energy_kwh: Decimal


@rule
def grams_used(plans: Sequence[BuildPlan]) -> dict[str, Decimal]:
    """Grams of each material are those of good and failed builds, and of units made again."""
    used: dict[str, Decimal] = {}
    for plan in plans:
        for n, build in plan.builds:
            for feed, grams in zip(build.piece.feeds, build.grams, strict=True):
                code = feed.material.code
                used[code] = used.get(code, ZERO) + n * grams * plan.made.again
    return used


@rule
def machine_hours(plans: Sequence[BuildPlan]) -> dict[str, Decimal]:
    """Machine hours are printing and warm-up, of good and failed builds and units made again."""
    hours: dict[str, Decimal] = {}
    for plan in plans:
        for n, build in plan.builds:
            code = build.piece.machine.code
            hours[code] = hours.get(code, ZERO) + n * build.minutes * plan.made.again / 60
    return hours


@rule
def build_starts(plans: Sequence[BuildPlan]) -> Decimal:
    """A good build takes 1/p starts, and units made again take theirs."""
    return sum(
        [(plan.number + plan.amounts.failed_starts) * plan.made.again for plan in plans], ZERO
    )


@rule
def minutes_worked(plans: Sequence[BuildPlan], minutes: Sequence[LabourMinutes]) -> Decimal:
    """People's minutes: once an order; for each start and each unit, those made again too."""
    total = ZERO
    for plan, worked in zip(plans, minutes, strict=True):
        starting = plan.made.product.work.build_min * plan.amounts.failed_starts
        total += worked.once + (worked.builds + starting + worked.units) * plan.made.again
    return total


@rule
def energy_used(plans: Sequence[BuildPlan]) -> Decimal:
    """Energy is that of printing and warm-up, of good and failed builds and units made again."""
    return sum([plan.amounts.kwh * plan.made.again for plan in plans], ZERO)


def use_of_order(plans: Sequence[BuildPlan], minutes: Sequence[LabourMinutes]) -> Use:
    """Add up what an order takes."""
    hours = machine_hours(plans)
    return Use(
        feedstock_g=grams_used(plans),
        machine_h=called(sum(hours.values(), ZERO), "machine_h"),
        machine_h_by=hours,
        builds=sum([plan.number for plan in plans]),
        build_starts=build_starts(plans),
        labour_min=called(minutes_worked(plans, minutes), "labour_min"),
        energy_kwh=energy_used(plans),
    )

"""Physical totals of an order: what it takes with failures and rejects in it."""

from collections import defaultdict
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
    used: defaultdict[str, Decimal] = defaultdict(lambda: ZERO)
    for plan in plans:
        for n, build in plan.builds:
            times = n * (1 + build.fares.wasted) * (1 + plan.product.remade)
            for feed, grams in zip(build.piece.feeds, build.grams, strict=True):
                used[feed.material.code] += grams * times
    return dict(used)


@rule
def machine_hours(plans: Sequence[BuildPlan]) -> dict[str, Decimal]:
    """Machine hours are printing and warm-up, of good and failed builds and units made again."""
    hours: defaultdict[str, Decimal] = defaultdict(lambda: ZERO)
    for plan in plans:
        for n, build in plan.builds:
            machine, fares = build.piece.machine, build.fares
            minutes = build.minutes * (1 + fares.wasted)
            minutes += machine.warm_up_min * (1 + fares.failed_starts)
            hours[machine.code] += n * minutes * (1 + plan.product.remade) / 60
    return dict(hours)


@rule
def build_starts(plans: Sequence[BuildPlan]) -> Decimal:
    """A good build takes 1/p starts, and units made again take theirs."""
    return sum(
        (
            n * (1 + build.fares.failed_starts) * (1 + plan.product.remade)
            for plan in plans
            for n, build in plan.builds
        ),
        ZERO,
    )


@rule
def minutes_worked(plans: Sequence[BuildPlan], minutes: Sequence[LabourMinutes]) -> Decimal:
    """People's minutes: once an order; for each start and each unit, those made again too."""
    total = ZERO
    for plan, worked in zip(plans, minutes, strict=True):
        starting = plan.product.work.build_min * sum(
            (n * build.fares.failed_starts for n, build in plan.builds), ZERO
        )
        again = (worked.builds + starting + worked.units) * (1 + plan.product.remade)
        total += worked.once + again
    return total


@rule
def energy_used(plans: Sequence[BuildPlan]) -> Decimal:
    """Energy is that of printing and warm-up, of good and failed builds and units made again."""
    total = ZERO
    for plan in plans:
        for n, build in plan.builds:
            kwh = build.printing_kwh * (1 + build.fares.wasted)
            kwh += build.piece.machine.warm_up_kwh * (1 + build.fares.failed_starts)
            total += n * kwh * (1 + plan.product.remade)
    return total


def use_of_order(plans: Sequence[BuildPlan], minutes: Sequence[LabourMinutes]) -> Use:
    """Add up what an order takes."""
    hours = machine_hours(plans)
    return Use(
        feedstock_g=grams_used(plans),
        machine_h=called(sum(hours.values(), ZERO), "machine_h"),
        machine_h_by=hours,
        builds=sum(n for plan in plans for n, _ in plan.builds),
        build_starts=build_starts(plans),
        labour_min=called(minutes_worked(plans, minutes), "labour_min"),
        energy_kwh=energy_used(plans),
    )

"""Scrap: what failed builds cost. A build that fails loses all its pieces."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation.arithmetic import ZERO, as_line
from gramhour_service.calculation.builds import BuildPlan
from gramhour_service.calculation.labour import labour_cost
from gramhour_service.calculation.rules import rule


@rule
def wasted_printing(plan: BuildPlan) -> Decimal:
    """Failed builds waste r builds' worth of feedstock, printing energy, machine time and wear."""
    return sum(
        (
            planned.times
            * build.fares.wasted
            * (build.feedstock + build.energy + build.machine + build.nozzle_wear)
            for planned in plan.builds
            for build in (planned.build,)
        ),
        ZERO,
    )


@rule
def repeated_starts(plan: BuildPlan, labour_rate_per_hour: Decimal) -> Decimal:
    """Each failed start repeats the warm-up's machine time and energy, and the build's work."""
    attending = labour_cost(plan.product.work.build_min, labour_rate_per_hour)
    return sum(
        (
            planned.times
            * build.fares.failed_starts
            * (build.warm_up_machine + build.warm_up_energy + attending)
            for planned in plan.builds
            for build in (planned.build,)
        ),
        ZERO,
    )


@rule
def scrap_line(scrap: Sequence[Decimal]) -> Decimal:
    """Scrap: what failed builds waste of printing, and what their repeated starts cost."""
    return as_line(sum(scrap, ZERO))

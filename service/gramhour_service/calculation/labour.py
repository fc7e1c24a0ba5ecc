"""People's work: minutes once an order, for each build and for each unit, and the cost line."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO, as_line
from gramhour_service.calculation.job import Product, Work
from gramhour_service.calculation.learning import learning_factor
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called


class LabourMinutes(NamedTuple):
    """Minutes of one order line: ``once`` is not repeated for rejects, the others are."""

    once: Decimal
    builds: Decimal
    units: Decimal


@rule
def nozzle_change_minutes(product: Product) -> Decimal:
    """Each distinct machine and nozzle costs a change, if the machine names another as usual."""
    changes = {
        (piece.machine.code, piece.nozzle.code): piece.nozzle.change_min
        for piece in product.pieces
        if piece.nozzle is not None
        and piece.machine.usual_nozzle is not None
        and piece.nozzle.code != piece.machine.usual_nozzle
    }
    return sum(changes.values(), ZERO)


@rule
def once_minutes(order_min: Decimal, change_min: Decimal) -> Decimal:
    """Once an order there are its own minutes and those of changing nozzles."""
    return order_min + change_min


@rule
def build_minutes(build_min: Decimal, builds: int) -> Decimal:
    """Each build costs its minutes."""
    return build_min * builds


@rule
def unit_minutes(unit_min: Decimal, factor: Decimal) -> Decimal:
    """Units take the first unit's minutes times the learning factor."""
    return unit_min * factor


def labour_minutes(work: Work, once: Decimal, quantity: int, builds: int) -> LabourMinutes:
    """Add up the minutes of so many units and builds, without failed builds and rejects."""
    factor = called(
        learning_factor(quantity, work.learning_pct, work.learning_until, work.made_before),
        "learning_factor",
    )
    return LabourMinutes(
        once=once,
        builds=build_minutes(work.build_min, builds),
        units=unit_minutes(work.unit_min, factor),
    )


@rule
def labour_cost(minutes: Decimal, rate_per_hour: Decimal) -> Decimal:
    """Work costs its hours times the labour rate."""
    return minutes * rate_per_hour / 60


@rule
def labour_line(once: Decimal, varying: Decimal) -> Decimal:
    """Labour: minutes once an order, for each build and each unit, at the labour rate."""
    return as_line(once + varying)

"""Scrap: what failed builds cost. A build that fails loses all its pieces."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.rules import rule


@rule
def wasted_printing(wasted: Decimal, printed: Decimal) -> Decimal:
    """Failed builds waste r builds' worth of feedstock, printing energy, machine time and wear."""
    return wasted * printed


@rule
def repeated_starts(
    failed_starts: Decimal, warm_up_machine: Decimal, warm_up_energy: Decimal, attending: Decimal
) -> Decimal:
    """Each failed start repeats the warm-up's machine time and energy, and the build's work."""
    return failed_starts * (warm_up_machine + warm_up_energy + attending)


@rule
def scrap_line(scrap: Decimal) -> Decimal:
    """Scrap: what failed builds waste of printing, and what their repeated starts cost."""
    return as_line(scrap)

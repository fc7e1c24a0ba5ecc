"""The machine-hour rate (as in VDI 3258), and machine time in builds and in the cost line."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.rules import rule


@rule
def depreciation_per_year(
    replacement_price: Decimal, residual_value: Decimal, life_years: Decimal
) -> Decimal:
    """What a machine loses a year: replacement price less residual value, over its life."""
    return (replacement_price - residual_value) / life_years


@rule
def interest_per_year(
    replacement_price: Decimal, residual_value: Decimal, interest_share: Decimal
) -> Decimal:
    """Imputed interest a year is on half of replacement price and residual value together."""
    return interest_share * (replacement_price + residual_value) / 2


@rule
def upkeep_per_year(space_per_year: Decimal, maintenance_per_year: Decimal) -> Decimal:
    """Space and maintenance belong to the machine, not to the overheads."""
    return space_per_year + maintenance_per_year


@rule
def machine_hour_rate(
    depreciation: Decimal, interest: Decimal, upkeep: Decimal, hours_per_year: Decimal
) -> Decimal:
    """An hour bears its part of what the machine costs in a year, at practical capacity.

    Source: VDI 3258.
    """
    return (depreciation + interest + upkeep) / hours_per_year


@rule
def machine_time(minutes: Decimal, rate_per_hour: Decimal) -> Decimal:
    """Machine time costs its hours times the machine-hour rate."""
    return minutes * rate_per_hour / 60


@rule
def machine_line(time: Decimal) -> Decimal:
    """Machine: the printing and the warm-up time of all builds at the machine-hour rate."""
    return as_line(time)

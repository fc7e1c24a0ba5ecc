"""Electricity of builds and of the cost line."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.rules import rule


@rule
def printing_kwh(power_w: Decimal, minutes: Decimal) -> Decimal:
    """Printing takes its power for its minutes: W · min / 60,000 is kWh."""
    return power_w * minutes / 60_000


@rule
def energy_cost(kwh: Decimal, price_per_kwh: Decimal) -> Decimal:
    """Energy costs its kilowatt-hours times their price."""
    return kwh * price_per_kwh


@rule
def energy_line(energy: Decimal) -> Decimal:
    """Energy: printing and warming up of all builds at the price of a kilowatt-hour."""
    return as_line(energy)

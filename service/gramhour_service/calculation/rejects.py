"""Rejects: units that are made again because they were rejected, broken or returned."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.rules import rule


@rule
def made_again(remade: Decimal, made: Decimal) -> Decimal:
    """A unit made again costs its feedstock, stock components, machine, energy, wear, work, scrap.

    Without what is paid once an order; what is bought for the order has remakes in its need.
    """
    return remade * made


@rule
def rejects_line(rejects: Decimal) -> Decimal:
    """Rejects: the units made again for each good one, at what making them costs."""
    return as_line(rejects)

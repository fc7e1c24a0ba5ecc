"""The design: by the unit, or once and spread over units. A share of the price is a fee."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.job import DesignFee
from gramhour_service.calculation.rules import rule


@rule
def one_off_per_unit(one_off: Decimal, one_off_units: int) -> Decimal:
    """What a design cost once is spread evenly over its units."""
    return one_off / one_off_units


@rule
def design_cost(fee: DesignFee, quantity: int) -> Decimal:
    """Each unit bears the fee by the unit and its part of the one-off."""
    return (fee.per_unit + one_off_per_unit(fee.one_off, fee.one_off_units)) * quantity


@rule
def design_line(cost: Decimal) -> Decimal:
    """Design: the fee by the unit and the unit's part of the one-off, for all units."""
    return as_line(cost)

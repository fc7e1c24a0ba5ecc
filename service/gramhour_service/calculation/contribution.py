"""What an order contributes to what is paid for anyway, an hour of machine and of people."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.labour import labour_cost
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called


@rule
def contribution(net: Decimal, fees: Decimal, variable: Decimal) -> Decimal:
    """An order contributes what fees and its variable cost leave of the net."""
    return called(net - fees - variable, "contribution")


@rule
def contribution_per_machine_hour(amount: Decimal, machine_h: Decimal) -> Decimal | None:
    """An hour of machine time brings the contribution by machine hours; none without hours."""
    return as_line(amount / machine_h) if machine_h else None


@rule
def contribution_per_labour_hour(
    amount: Decimal, labour_min: Decimal, rate_per_hour: Decimal
) -> Decimal | None:
    """An hour of people's work earns the contribution and its own cost by hours worked."""
    if not labour_min:
        return None
    return as_line((amount + labour_cost(labour_min, rate_per_hour)) * 60 / labour_min)

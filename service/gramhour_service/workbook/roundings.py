"""The roundings of the calculation as formulas, for programs that compute in binary.

A tie in decimal is hardly ever one in binary. Half even takes as a tie what 12 decimals cannot
tell from one, as the calculation does. Half up lifts an amount by a few last binary places, so
that one that stands at a tie is not under it.
"""

from decimal import Decimal

from gramhour_service.calculation import arithmetic
from gramhour_service.workbook.figures import Figure, formula, in_its_cell, plain

NOISE_PLACES = 12
LIFT = "(1+2E-15)"


def half_even(amount: Decimal, places: int) -> Decimal:
    """Round half even to so many decimals, after 12 decimals."""
    value = arithmetic.half_even(plain(amount), places)
    if not isinstance(amount, Figure):
        return value
    if places >= NOISE_PLACES:
        return formula(f"ROUND({{0}};{places})", value, amount)
    amount = in_its_cell(amount, "before rounding")
    unit = f"1E{places}"
    tie = f"5E{places - NOISE_PLACES - 1}+ABS({{0}})*1E{places - 15}"
    return formula(
        f"IF(ABS(MOD({{0}}*{unit};1)-0.5)<{tie};2*ROUND({{0}}*{unit}/2;0)/{unit};"
        f"ROUND({{0}};{places}))",
        value,
        amount,
    )


def half_up(amount: Decimal, places: int) -> Decimal:
    """Round half up to so many decimals."""
    value = arithmetic.half_up(plain(amount), places)
    if not isinstance(amount, Figure):
        return value
    return formula(f"ROUND({{0}}*{LIFT};{places})", value, amount)


def ceiling(amount: Decimal) -> Decimal:
    """Round up to whole ones, after 6 decimals."""
    value = Decimal(arithmetic.ceiling(plain(amount)))
    return formula("ROUNDUP(ROUND({0};6);0)", value, amount)


def standing(amount: Decimal) -> Decimal:
    """Round a sum of rounded amounts to their decimals: in binary it may be a last place off."""
    if not isinstance(amount, Figure):
        return amount
    exponent = plain(amount).as_tuple().exponent
    return formula(f"ROUND({{0}};{max(0, -exponent)})", plain(amount), amount)

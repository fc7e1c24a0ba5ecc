"""Decimal arithmetic: one context, and a rounding named at every call.

Costs are rounded half even (after 12 decimals, which removes the noise of division), prices,
fees and tax half up to the currency's minor unit.
"""

from contextlib import AbstractContextManager
from decimal import (
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    DivisionByZero,
    InvalidOperation,
    Overflow,
    localcontext,
)

CONTEXT = Context(
    prec=40, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow]
)
NOISE_FREE = Decimal(1).scaleb(-12)
DIGITS_BEFORE_THE_POINT = 15
LAST_PLACE = tuple(Decimal(1).scaleb(-places) for places in range(13))
BELOW_LIMIT = tuple(
    Context(prec=DIGITS_BEFORE_THE_POINT + places, traps=[InvalidOperation]) for places in range(13)
)
"""By decimals kept, the context in which rounding an amount of 10^15 or more is no operation."""

ZERO = Decimal(0)
ONE = Decimal(1)


class CannotBePriced(Exception):
    """The order has no price: ``pointer`` names the member to look at, the text says why."""

    def __init__(self, pointer: str, detail: str) -> None:
        """Keep where to look and what is wrong."""
        super().__init__(detail)
        self.pointer = pointer
        self.detail = detail


def costing_arithmetic() -> AbstractContextManager[Context]:
    """Compute with precision 40, whatever context the calling thread has."""
    return localcontext(CONTEXT)


def half_even(amount: Decimal, places: int) -> Decimal:
    """Round half even to so many decimals, after 12 decimals; a zero has no sign.

    Raises ``CannotBePriced`` for what rounds to 10^15 and more.
    """
    try:
        clean = amount.quantize(NOISE_FREE, ROUND_HALF_EVEN, BELOW_LIMIT[12])
    except InvalidOperation:
        raise _too_large() from None
    rounded = clean.quantize(LAST_PLACE[places], ROUND_HALF_EVEN)
    return rounded or rounded.copy_abs()


def half_up(amount: Decimal, places: int) -> Decimal:
    """Round half up to so many decimals; a zero has no sign.

    Raises ``CannotBePriced`` for what rounds to 10^15 and more.
    """
    try:
        rounded = amount.quantize(LAST_PLACE[places], ROUND_HALF_UP, BELOW_LIMIT[places])
    except InvalidOperation:
        raise _too_large() from None
    return rounded or rounded.copy_abs()


def as_line(amount: Decimal) -> Decimal:
    """Round a cost line, an amount per unit or hour, or a physical total: 4 decimals."""
    return half_even(amount, 4)


def as_percentage(amount: Decimal) -> Decimal:
    """Round a percentage as it is shown: 2 decimals."""
    return half_even(amount, 2)


def ceiling(amount: Decimal) -> int:
    """Round a divided amount of material up to whole ones, after 6 decimals."""
    rounded = half_even(amount, 6)
    whole = int(rounded)
    return whole + (rounded > whole)


def _too_large() -> CannotBePriced:
    return CannotBePriced(
        "/quantity",
        "an amount of this order reaches 10^15; look for a mistyped rate, minute, gram or yield",
    )

"""How amounts, counts and days stand on a page.

An amount keeps the answer's own text in ``value``; what is read is that text with its currency,
until a script (``figures.js``) writes it as the reader's country does. Nothing is rounded here.
"""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from markupsafe import Markup

TENTHS_FROM = 10


def money(amount: Decimal, currency: str) -> Markup:
    """Write an amount with its currency."""
    return Markup('<data class="money" value="{0}" data-currency="{1}">{0}&nbsp;{1}</data>').format(
        amount, currency
    )


def number(amount: Decimal | float | int | str, unit: str = "") -> Markup:
    """Write a number that is no money, with its unit if it has one."""
    space = Markup("&nbsp;") if unit else ""
    if isinstance(amount, float) and amount.is_integer():
        amount = int(amount)
    return Markup('<data class="number" value="{0}">{0}</data>{1}{2}').format(amount, space, unit)


def measured(amount: float, unit: str = "") -> Markup:
    """Write a measure as people read one: to a tenth from 10 on, to a hundredth below."""
    digits = 1 if amount >= TENTHS_FROM else 2
    return number(float(f"{amount:.{digits}f}"), unit)


def day(told: date) -> Markup:
    """Write a day with its weekday, in the page's own language: a ready date is read aloud."""
    return Markup('<time datetime="{}">{}</time>').format(
        told.isoformat()[:10], f"{told:%A}, {told.day} {told:%B %Y}"
    )


def moment(told: datetime) -> Markup:
    """Write an instant by the clock that it carries."""
    return Markup('<time datetime="{}">{}</time>').format(
        told.isoformat(timespec="minutes"),
        f"{told:%A}, {told.day} {told:%B %Y}, {told:%H:%M}",
    )


def signs(amount: Decimal, currency: str) -> dict[str, str]:
    """Say of a text in a drawing which amount it writes, for the script that writes it anew."""
    return {"data_value": str(amount), "data_currency": currency}


def capitalised(says: str) -> str:
    """Write a remark as a sentence."""
    return f"{says[:1].upper()}{says[1:].rstrip('.')}."


FILTERS: dict[str, Callable[..., Any]] = {
    "measured": measured,
    "money": money,
    "number": number,
    "capitalised": capitalised,
    "day": day,
    "moment": moment,
}

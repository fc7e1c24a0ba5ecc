"""Readers of single values: numbers, texts, words. Each notes a fault in words and goes on.

A number is read exactly: plain decimal digits, finite, within 10^9, at most 9 decimals.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from msgspec import inspect

from gramhour.contract.members import DECIMALS, LARGEST, MONEY
from gramhour.contract.noting import Place, Reader, Reading, kind_of, shown
from gramhour.contract.problem import sendable

NEAR = int(LARGEST)
PLAIN_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?", re.ASCII)
WITH_COMMA = re.compile(r"-?[0-9]+,[0-9]+", re.ASCII)
THOUSANDS = re.compile(r"-?[1-9][0-9]{0,2},[0-9]{3}", re.ASCII)
"""1,234 is a little more than one to some and more than a thousand to others."""
MARKED = re.compile(
    r"-?[1-9][0-9]{0,2}(?P<mark>[.,'’ \u00a0\u202f])[0-9]{3}(?:(?P=mark)[0-9]{3})*"
    r"(?:(?!(?P=mark))[.,](?P<decimals>[0-9]+))?"
)
"""Thousands with marks between them, and decimals behind another one: 1.234,50."""
NO_MARKS = "must have a decimal point and no marks between thousands"
CURRENCY = "(?:[A-Z]{3}|[$£¤¥\u20a0-\u20cf])"
WITH_CURRENCY = re.compile(
    rf"(?:{CURRENCY}\s?(?=-?[0-9]))?(-?[0-9]+(?:[.,][0-9]+)*)(?:\s?{CURRENCY})?"
)
"""A currency by its code or sign, before the number or after it."""


def decimal_reader(bounds: Mapping[str, Decimal], unit: str) -> Reader:
    """Compile the reader of a decimal amount within bounds."""
    is_money = unit.startswith(MONEY)
    least, above = bounds.get("minimum"), bounds.get("exclusiveMinimum")
    most, below = bounds.get("maximum", LARGEST), bounds.get("exclusiveMaximum")

    def read(value: Any, place: Place, reading: Reading) -> Any:
        number = _exact(value)
        if isinstance(number, str):
            meant = is_money and isinstance(value, str) and _without_currency(value)
            return reading.refuse(place, meant or number)
        if least is not None and number < least:
            return reading.refuse(place, f"must be {least} or more, not {shown(value)}")
        if above is not None and number <= above:
            return reading.refuse(place, f"must be above {above}, not {shown(value)}")
        if below is not None and number >= below:
            return reading.refuse(place, f"must be below {below}, not {shown(value)}")
        if number > most or number < -LARGEST:
            return reading.refuse(place, f"must be {most} or less, not {shown(value)}")
        return number

    return read


def _without_currency(value: str) -> str | None:
    """Say, of an amount with its currency, that the number is enough."""
    found = WITH_CURRENCY.fullmatch(value.strip())
    if found is None or value.strip() == found[1]:
        return None
    number = _as_plain(found[1])
    return f"must be only the number, as in {number}, in the sheet's currency: not {shown(value)}"


def _as_plain(written: str) -> str:
    """Write an amount as it is to be sent; what cannot be read is shown by an example."""
    if PLAIN_NUMBER.fullmatch(written):
        return written
    if THOUSANDS.fullmatch(written):
        return f"{written.replace(',', '.')} or {written.replace(',', '')}, whichever you mean"
    is_decimal = WITH_COMMA.fullmatch(written)
    plain = written.replace(",", ".") if is_decimal else without_marks(written)
    return f"{plain} with a decimal point and no comma" if plain else "12.50"


def _exact(value: Any) -> Decimal | str:
    """Read a number exactly, or say in words why it is none."""
    number = _decimal(value)
    if isinstance(number, str) or isinstance(value, int):
        return number
    if not number.is_finite():
        return f"must be a finite number, not {shown(value)}"
    if number.is_zero():
        return "must not be minus zero; write 0" if number.is_signed() else Decimal(0)
    if number.adjusted() > LARGEST.adjusted():
        return f"must be within ±{LARGEST}, not {shown(value)}"
    _, digits, exponent = number.as_tuple()
    assert isinstance(exponent, int)
    if exponent > 0:
        return Decimal(int(number))
    if -exponent > DECIMALS and any(digits[exponent + len(digits) + DECIMALS :]):
        return f"must have at most {DECIMALS} decimals, not {shown(value)}"
    return number


def _decimal(value: Any) -> Decimal | str:
    """Read what may stand for a decimal, or say in words why it may not."""
    match value:
        case int() if not isinstance(value, bool):
            is_near = -NEAR <= value <= NEAR
            return Decimal(value) if is_near else f"must be within ±{LARGEST}, not {shown(value)}"
        case Decimal():
            return value
        case str() if PLAIN_NUMBER.fullmatch(value):
            return Decimal(value)
        case str() if THOUSANDS.fullmatch(value):
            ways = f"{value.replace(',', '.')} or {value.replace(',', '')}"
            return f"may be {ways}: write the one that you mean, not {shown(value)}"
        case str() if plain := without_marks(value):
            return f"{NO_MARKS}: write {plain}, not {shown(value)}"
        case str() if WITH_COMMA.fullmatch(value):
            return f"must have a decimal point, as in 12.50, no comma: not {shown(value)}"
        case str():
            return f"must be a plain decimal number such as 12.50, not {shown(value)}"
        case float():
            return "must be exact, no binary float: send a text, or read with parse_float=Decimal"
    return f"must be a number, not {kind_of(value)}"


def without_marks(text: str) -> str | None:
    """Write a number with marks between its thousands without; none if it can be another one."""
    found = MARKED.fullmatch(text)
    if found is None or PLAIN_NUMBER.fullmatch(text) or THOUSANDS.fullmatch(text):
        return None
    decimals = found["decimals"] or ""
    whole = re.sub(r"[^0-9-]", "", text.removesuffix(decimals))
    return f"{whole}.{decimals}" if decimals else whole


def whole_number_reader(described: inspect.IntType) -> Reader:
    """Compile the reader of a whole number within bounds."""
    least, most = described.ge, described.le

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, int) or isinstance(value, bool):
            found = shown(value) if isinstance(value, Decimal | str) else kind_of(value)
            quoted = isinstance(value, str) and value.isascii() and value.isdecimal()
            remedy = "; leave the quotes away" if quoted else ""
            return reading.refuse(place, f"must be a whole number, not {found}{remedy}")
        if (least is not None and value < least) or (most is not None and value > most):
            return reading.refuse(place, f"must be from {least} to {most}, not {shown(value)}")
        return value

    return read


def read_bool(value: Any, place: Place, reading: Reading) -> Any:
    """Read true or false."""
    if isinstance(value, bool):
        return value
    return reading.refuse(place, f"must be true or false, not {kind_of(value)}")


def text_reader(
    described: inspect.StrType, refers_to: str | None, form: str | None = None
) -> Reader:
    """Compile the reader of a text, or of a code that the sheet must have among a kind.

    ``form`` says in words what its pattern allows.
    """
    pattern = re.compile(described.pattern) if described.pattern else None
    shortest, longest = described.min_length or 0, described.max_length

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, str):
            return reading.refuse(place, f"must be a text in quotes, not {kind_of(value)}")
        if len(value) < shortest:
            return reading.refuse(place, "must not be empty")
        if refers_to and value not in reading.codes[refers_to]:
            near = reading.meant(value, reading.codes[refers_to]) if reading.names_codes else ""
            return reading.refuse(
                place, f"unknown code {shown(value)}: the sheet has none such in {refers_to}{near}"
            )
        if not value.isascii() and value != sendable(value):
            return reading.refuse(place, "holds half of a surrogate pair; send whole characters")
        if pattern and not pattern.fullmatch(value):
            wanted = f"must be {form}, not" if form else f"must match {described.pattern}, not"
            return reading.refuse(place, f"{wanted} {shown(value)}")
        if longest is not None and len(value) > longest:
            return reading.refuse(
                place, f"must have at most {longest} characters, not {len(value)}"
            )
        return value

    return read


def word_reader(described: inspect.LiteralType) -> Reader:
    """Compile the reader of one of several words."""
    words = tuple(str(word) for word in described.values)

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if isinstance(value, str) and value in words:
            return value
        found = shown(value) if isinstance(value, str) else kind_of(value)
        near = reading.nearest(value, words) if isinstance(value, str) else ""
        return reading.refuse(place, f"must be one of: {', '.join(words)}; not {found}{near}")

    return read

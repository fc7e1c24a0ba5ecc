"""The minor unit of a currency, by ISO 4217."""

from functools import cache

from iso4217 import Currency


class UnknownCurrency(ValueError):
    """A code that ISO 4217 does not list, or lists without a minor unit."""


@cache
def minor_digits(code: str) -> int:
    """Look up a currency's decimals: 2 for EUR, 0 for JPY, 3 for KWD.

    Source: ISO 4217 list one, as the ``iso4217`` package carries it (not the CLDR, which
    differs for some currencies). Raises ``UnknownCurrency``.
    """
    try:
        digits = Currency(code).exponent
    except ValueError:
        raise UnknownCurrency(f"'{code}' is not a currency code of ISO 4217, such as EUR") from None
    if digits is None:
        raise UnknownCurrency(f"'{code}' has no minor unit in ISO 4217; name a currency to pay in")
    return int(digits)

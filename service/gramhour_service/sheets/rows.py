"""A rate sheet as rows of the store, and rows as a sheet.

A kind's rates stand under their codes; what is sheet-wide stands in the kind ``shop``, each
member under its own name.
"""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

import msgspec
from msgspec import UNSET

from gramhour.contract.documents import parse_json
from gramhour.contract.leaves import PLAIN_NUMBER
from gramhour.contract.rates import KINDS, RateSheet
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.store.rates import Change, Key

SHOP = "shop"
SHEET_WIDE = tuple(name for name in RateSheet.__struct_fields__ if name not in KINDS)
ALL_KINDS = (SHOP, *KINDS)


def rates_of(sheet: RateSheet) -> dict[Key, Any]:
    """List the rates of a sheet, each under its kind and code."""
    rates: dict[Key, Any] = {
        (SHOP, name): value for name in SHEET_WIDE if (value := getattr(sheet, name)) is not UNSET
    }
    for kind in KINDS:
        entries = getattr(sheet, kind)
        if entries is not UNSET:
            rates |= {(kind, code): entry for code, entry in entries.items()}
    return rates


def plain_sheet(sheet: RateSheet) -> Any:
    """Write a sheet as plain values, amounts as decimals or whole numbers, for TOML or JSON."""
    return _with_whole_numbers(msgspec.to_builtins(sheet, builtin_types=(Decimal,)))


def plain_value(change: Change) -> Any:
    """Read the value of a rate that is there as plain values."""
    assert change.value is not None
    return parse_json(change.value.encode())


def _with_whole_numbers(value: Any) -> Any:
    """Write an amount without decimals as a whole number, which TOML keeps as it is."""
    if isinstance(value, dict):
        return {name: _with_whole_numbers(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_with_whole_numbers(each) for each in value]
    is_whole = isinstance(value, Decimal) and value.as_tuple().exponent == 0
    return int(value) if is_whole else value


def differences(old: RateSheet | None, new: RateSheet) -> dict[Key, str | None]:
    """List the rates that differ, as JSON, and as none those that the new sheet lacks.

    A number written otherwise (27.4 for 27.40) is no difference.
    """
    before = {} if old is None else rates_of(old)
    after = rates_of(new)
    gone: dict[Key, str | None] = {key: None for key in before if key not in after}
    changed = {
        key: msgspec.json.encode(value).decode()
        for key, value in after.items()
        if key not in before or before[key] != value
    }
    return gone | changed


def same_value(one: str | None, other: str | None) -> bool:
    """Say whether two stored values of a rate are the same, however their numbers are written."""
    if one is None or other is None or one == other:
        return one == other
    first, second = (_plain_numbers(parse_json(text.encode())) for text in (one, other))
    return bool(first == second)


def _plain_numbers(value: Any) -> Any:
    """Read the texts that are numbers; a name that looks like one is a name in both."""
    if isinstance(value, dict):
        return {name: _plain_numbers(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_plain_numbers(each) for each in value]
    if isinstance(value, str) and PLAIN_NUMBER.fullmatch(value):
        return Decimal(value)
    return value


def put_rate(sheet: dict[str, Any], key: Key, value: Any) -> None:
    """Put a plain value into a plain sheet, or take it out where it is none."""
    kind, code = key
    rates = sheet if kind == SHOP else sheet.setdefault(kind, {})
    if value is None:
        rates.pop(code, None)
    else:
        rates[code] = value


def plain_sheet_from(changes: Iterable[Change]) -> dict[str, Any]:
    """Make a sheet as plain values of the changes that count."""
    sheet: dict[str, Any] = {}
    for change in changes:
        if change.value is not None:
            put_rate(sheet, change.key, plain_value(change))
    return sheet


def sheet_from(changes: Iterable[Change]) -> RateSheet:
    """Read a sheet from the changes that count.

    Raises ``Refused`` with every fault of what they are together.
    """
    return sound_sheet(plain_sheet_from(changes))

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
    """Write a sheet as plain values, amounts as decimals, for TOML or JSON."""
    return msgspec.to_builtins(sheet, builtin_types=(Decimal,))


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


def sheet_from(changes: Iterable[Change]) -> RateSheet:
    """Read a sheet from the changes that count.

    Raises ``Refused`` with every fault of what they are together.
    """
    sheet: dict[str, Any] = {}
    for change in changes:
        if change.value is not None:
            value = parse_json(change.value.encode())
            if change.kind == SHOP:
                sheet[change.code] = value
            else:
                sheet.setdefault(change.kind, {})[change.code] = value
    return sound_sheet(sheet)

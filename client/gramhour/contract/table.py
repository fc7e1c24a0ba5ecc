"""Writes the table of every member that can be sent: type, unit, bound, default, meaning.

``python -m gramhour.contract.table`` prints it as Markdown; a test compares it with the one
that is kept in ``openapi/members.md``.
"""

import sys
from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec import inspect

from gramhour.contract.calibration import CalibrationRequest
from gramhour.contract.changes import RateChanges
from gramhour.contract.comparison import ComparisonRequest
from gramhour.contract.listing import ListingRow, ProductRow
from gramhour.contract.repricing import ApplyRequest, RepricingRequest
from gramhour.contract.request import ListedRequest, MeasuredRequest, QuoteRequest
from gramhour.contract.seals import SealShown
from gramhour.contract.times import FIRST_DAY, LAST_DAY

HEAD = """# Every member that can be sent

Made from the contract's types by `python -m gramhour.contract.table`; do not edit.

Amounts are decimals: JSON numbers or strings of plain digits, read exactly, within ±10⁹, with
at most 9 decimals. A member without a default and not marked required may be left out; what
that means stands beside it. Every default that was used is listed in the answer's `basis`.
"""
COLUMNS = "| member | type | unit | bound | default | meaning |\n|---|---|---|---|---|---|\n"

SENT = (
    QuoteRequest,
    ListedRequest,
    MeasuredRequest,
    ComparisonRequest,
    CalibrationRequest,
    RateChanges,
    ProductRow,
    ListingRow,
    RepricingRequest,
    ApplyRequest,
    SealShown,
)

PLAIN_TYPES: dict[type[inspect.Type], str] = {
    inspect.StrType: "text",
    inspect.IntType: "whole number",
    inspect.BoolType: "true or false",
    inspect.DateType: "date",
    inspect.DateTimeType: "instant",
    inspect.AnyType: "a rate",
    inspect.DecimalType: "decimal",
}


def table() -> str:
    """Write the whole table, a section for each object, in the order in which they are met."""
    sections = map(_section, _structs(*SENT))
    return HEAD + "".join(sections)


def _structs(*roots: type[msgspec.Struct]) -> list[type[msgspec.Struct]]:
    found: dict[type[msgspec.Struct], None] = {}
    waiting = list(roots)
    while waiting:
        struct = waiting.pop(0)
        if struct not in found:
            found[struct] = None
            waiting += [inner for field in _fields(struct) for inner in _inner(field.type)]
    return list(found)


def _fields(struct: type[msgspec.Struct]) -> tuple[inspect.Field, ...]:
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    return tuple(sorted(described.fields, key=lambda field: not field.required))


def _inner(described: inspect.Type) -> Iterator[type[msgspec.Struct]]:
    match described:
        case inspect.Metadata(type=inner):
            yield from _inner(inner)
        case inspect.ListType(item_type=inner) | inspect.DictType(value_type=inner):
            yield from _inner(inner)
        case inspect.StructType(cls=struct):
            yield struct


def _section(struct: type[msgspec.Struct]) -> str:
    doc = (struct.__doc__ or "").replace("``", "`").strip()
    rows = "".join(_row(field) for field in _fields(struct))
    return f"\n## {struct.__name__}\n\n{doc}\n\n{COLUMNS}{rows}"


def _row(field: inspect.Field) -> str:
    described, extra = field.type, dict[str, Any]()
    while isinstance(described, inspect.Metadata):
        extra = {**(described.extra or {}), **extra}
        described = described.type
    default = "required" if field.required else f"{extra.get('default', '')}"
    cells = (
        f"`{field.encode_name}`",
        _type(described, extra),
        extra.get("unit", ""),
        _bound(described, extra),
        default,
        extra["says"],
    )
    return f"| {' | '.join(cells)} |\n"


def _type(described: inspect.Type, extra: dict[str, Any]) -> str:
    match described:
        case inspect.Metadata(type=inner):
            return _type(inner, {**(described.extra or {}), **extra})
        case inspect.StructType(cls=struct):
            return f"[{struct.__name__}](#{struct.__name__.lower()})"
        case inspect.ListType(item_type=inner):
            return f"list of {_type(inner, {})}"
        case inspect.DictType(value_type=inner):
            return f"{_type(inner, {})} by code"
        case inspect.LiteralType(values=words):
            return "one of: " + ", ".join(f"`{word}`" for word in words)
        case inspect.StrType() if "refers_to" in extra:
            return f"code of {extra['refers_to']}"
    return PLAIN_TYPES[type(described)]


def _bound(described: inspect.Type, extra: dict[str, Any]) -> str:
    match described:
        case inspect.DateType() | inspect.DateTimeType():
            return f"{FIRST_DAY} to {LAST_DAY}"
        case inspect.IntType(ge=least, le=most):
            return f"{least} to {most}"
        case inspect.ListType(min_length=fewest, max_length=most) if most is not None:
            return f"{fewest or 0} to {most} entries"
        case inspect.StrType(max_length=most) if most is not None:
            return f"at most {most} characters"
        case inspect.StrType(pattern=pattern) if pattern is not None and "refers_to" not in extra:
            return f"`{pattern}`"
    signs = {
        "minimum": "≥",
        "exclusiveMinimum": ">",
        "maximum": "≤",
        "exclusiveMaximum": "<",
    }
    bounds = extra.get("bounds", {})
    return ", ".join(f"{sign} {bounds[name]}" for name, sign in signs.items() if name in bounds)


if __name__ == "__main__":
    sys.stdout.write(table())

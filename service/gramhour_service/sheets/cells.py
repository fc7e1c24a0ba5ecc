"""The cells of a CSV file: which columns a kind of rates has, or listings have; values to cells
and back.

A spreadsheet runs what begins like a formula, and takes 007 for 7. A text that it would not leave
alone gets an apostrophe in front, which is taken away on the way in; so does one that begins with
apostrophes before such a text, so that every text comes back as it was. Numbers of the contract
are plain ones, which a spreadsheet only reads: they stay as they are.
"""

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET, inspect

from gramhour.contract.documents import parse_json
from gramhour.contract.listing import Listing
from gramhour.contract.members import OneWay
from gramhour.contract.noting import shown
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.sheets.rows import SHEET_WIDE, SHOP

LISTINGS = "listings"
ABSENT: Any = UNSET
APOSTROPHE = "'"
RUNS = "=+-@\t\r\n\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\uff0d\uff20"
LIKE_NUMBER = re.compile(r"[0-9][0-9.,:/eE+-]*%?", re.ASCII)
"""A number, a share, a day or a time, as spreadsheets find them in texts."""
WHOLE = re.compile(r"-?[0-9]{1,40}", re.ASCII)
WITH_COMMA = re.compile(r"(-?[0-9]+),([0-9]+)", re.ASCII)


class Column(NamedTuple):
    """A column: the way to its member, and what that holds. Of ``shop``, the value itself."""

    path: tuple[str, ...]
    holds: type[inspect.Type] | None

    @property
    def name(self) -> str:
        """The column's heading."""
        return ".".join(self.path) or "value"

    def written(self, code: str, rate: Any) -> str:
        """Write a rate's cell."""
        value = rate
        for step in self.path:
            value = value.get(step, ABSENT) if isinstance(value, dict) else ABSENT
        holds = self.holds or shop_types().get(code)
        return "" if value is ABSENT else cell_of(value, is_text=holds is inspect.StrType)

    def holds_place(self, steps: tuple[str, ...]) -> bool:
        """Say whether a place within a rate is this column's, or within its cell."""
        return steps[: len(self.path)] == self.path

    def put(self, rate: Any, value: Any) -> Any:
        """Put a value into a rate, or take it out; an object that has nothing left goes too."""
        return _put(rate, self.path, value)


def _put(rate: Any, path: tuple[str, ...], value: Any) -> Any:
    if not path:
        return value
    step, *rest = path
    members = dict(rate) if isinstance(rate, dict) else {}
    inner = _put(members.get(step), tuple(rest), value)
    if inner is ABSENT or (rest and not inner):
        members.pop(step, None)
    else:
        members[step] = inner
    return members


@cache
def columns_of(kind: str) -> tuple[Column, ...]:
    """List the columns of a kind, or of listings, in the contract's order."""
    if kind == SHOP:
        return (Column((), None),)
    if kind == LISTINGS:
        return tuple(_columns((), Listing))
    (described,) = (each for each in _members(RateSheet) if each.name == kind)
    kinds = _bare(described.type)
    assert isinstance(kinds, inspect.DictType)
    rate = _bare(kinds.value_type)
    assert isinstance(rate, inspect.StructType)
    return tuple(_columns((), rate.cls))


@cache
def shop_types() -> Mapping[str, type[inspect.Type]]:
    """Say what each member holds that is sheet-wide."""
    return {
        each.name: type(_bare(each.type)) for each in _members(RateSheet) if each.name in SHEET_WIDE
    }


def _columns(path: tuple[str, ...], struct: type[msgspec.Struct]) -> Iterator[Column]:
    """Spread an object over columns; one that may be empty stays together, lest it be lost."""
    for each in _members(struct):
        held, way = _bare(each.type), (*path, each.name)
        if isinstance(held, inspect.StructType) and _has_something(held.cls):
            yield from _columns(way, held.cls)
        else:
            yield Column(way, type(held))


def _has_something(struct: type[msgspec.Struct]) -> bool:
    choices: tuple[OneWay, ...] = getattr(struct, "one_way", ())
    needed = [each.required for each in _members(struct)] + [each.required for each in choices]
    return any(needed)


def _members(struct: type[msgspec.Struct]) -> tuple[inspect.Field, ...]:
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    return described.fields


def _bare(described: inspect.Type) -> inspect.Type:
    while isinstance(described, inspect.Metadata):
        described = described.type
    return described


def cell_of(value: Any, *, is_text: bool = True) -> str:
    """Write a value as a cell: a number as it is, a list as JSON, a text so that nothing runs."""
    if isinstance(value, str):
        return defused(value) if is_text else value
    if isinstance(value, Decimal):
        return f"{value:f}"
    return msgspec.json.encode(value).decode()


def read_cell(kind: str, code: str, column: Column, cell: str) -> Any:
    """Read a cell as plain values, or say as a ``Fault`` why not. Bounds are read later."""
    holds = column.holds
    if kind == SHOP:
        if code not in SHEET_WIDE:
            return Fault(detail=f"nothing sheet-wide is called {shown(code)}")
        holds = shop_types()[code]
        if not cell:
            return Fault(detail="it is empty; give a value, or leave the row out")
    text = restored(cell)
    if not cell:
        return ABSENT
    if holds is inspect.DecimalType or holds is inspect.IntType:
        return _number(text.strip(), holds)
    if holds is inspect.BoolType:
        return {"true": True, "false": False}.get(text.strip().casefold(), text)
    if holds in (inspect.ListType, inspect.DictType, inspect.StructType):
        return _json(text)
    return text


def _number(text: str, holds: type[inspect.Type]) -> Any:
    if comma := WITH_COMMA.fullmatch(text):
        whole, decimals = comma.groups()
        return Fault(detail=f"if {text} has a decimal comma, write {whole}.{decimals}")
    return int(text) if holds is inspect.IntType and WHOLE.fullmatch(text) else text


def _json(text: str) -> Any:
    try:
        return parse_json(text.encode())
    except Refused as refused:
        return Fault(detail=f"{refused.faults[0].detail}; lists stand as JSON in their cell")


def defused(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would not leave alone."""
    return APOSTROPHE + text if _needs_apostrophe(text) else text


def restored(cell: str) -> str:
    """Take away the apostrophe that ``defused`` put in front, and no other."""
    behind = cell.removeprefix(APOSTROPHE)
    return behind if behind != cell and _needs_apostrophe(behind) else cell


def _needs_apostrophe(text: str) -> bool:
    """Say whether a text would be run, taken for a number, or be lost as an empty cell."""
    bare = text.lstrip(APOSTROPHE)
    return not bare or bare[0] in RUNS or LIKE_NUMBER.fullmatch(bare) is not None

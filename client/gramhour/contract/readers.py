"""Each type of the contract compiled once into a reader that goes on after a fault.

A reader knows shapes, bounds, members that exclude each other and codes that must exist.
"""

from collections.abc import Mapping
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect

from gramhour.contract.leaves import (
    decimal_reader,
    read_bool,
    text_reader,
    whole_number_reader,
    word_reader,
)
from gramhour.contract.members import OneWay
from gramhour.contract.noting import FAULTY, Place, Reader, Reading, kind_of
from gramhour.contract.times import read_day, read_moment

PLAIN_READERS: Mapping[type[inspect.Type], Reader] = {
    inspect.AnyType: lambda value, *_: value,
    inspect.BoolType: read_bool,
    inspect.DateType: read_day,
    inspect.DateTimeType: read_moment,
}
"""The readers of what has no bounds but its own."""


@cache
def reader_of(struct: type[msgspec.Struct]) -> Reader:
    """Compile the reader of one type of the contract."""
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    members = {field.encode_name: (field.name, _reader(field.type)) for field in described.fields}
    needed = [field.encode_name for field in described.fields if field.required]
    one_way: tuple[OneWay, ...] = getattr(struct, "one_way", ())
    says = {field.encode_name: _meaning(field.type) for field in described.fields}

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, dict):
            if isinstance(value, struct):  # it was read before
                return value
            return reading.refuse(place, f"must be an object of members, not {kind_of(value)}")
        before = len(reading.faults)
        given: dict[str, Any] = {}
        for name, sent in value.items():
            known = members.get(name)
            if known is None:
                near = reading.nearest(name, members)
                reading.refuse(
                    (place, name),
                    f"unknown member '{name}'{near or '; remove or move it'}",
                )
            else:
                own_name, read_member = known
                given[own_name] = read_member(sent, (place, name), reading)
        for name in needed:
            if name not in value:
                reading.refuse((place, name), f"'{name}' is missing; it has no default")
        for choice in one_way:
            _check_one_way(choice, given, says, place, reading)
        return struct(**given) if len(reading.faults) == before else FAULTY

    return read


def _meaning(described: inspect.Type) -> str:
    """Say what the contract says of a member."""
    extra = described.extra if isinstance(described, inspect.Metadata) else None
    return str((extra or {}).get("says", ""))


def _check_one_way(
    choice: OneWay,
    given: Mapping[str, Any],
    says: Mapping[str, str],
    place: Place,
    reading: Reading,
) -> None:
    """Of several ways to give one thing exactly one is given, and whole."""
    used = [way for way in choice.ways if not given.keys().isdisjoint(way.needs + way.may_have)]
    if len(used) == 1:
        for name in used[0].needs:
            if name not in given:
                reading.refuse(
                    (place, name), f"'{name}' is missing: {says[name]}; it has no default"
                )
    elif used or choice.required:
        found = [name for way in used for name in (*way.needs, *way.may_have) if name in given]
        excluded = f"{', '.join(found)} exclude each other; " if found else ""
        names = "; ".join(" + ".join(way.needs or way.may_have) for way in choice.ways)
        reading.refuse(place, f"{excluded}give exactly one of: {names}")


def _reader(described: inspect.Type) -> Reader:
    """Compile the reader of a member: its shape first, then what its declaration adds."""
    extra: dict[str, Any] = {}
    while isinstance(described, inspect.Metadata):
        extra = {**(described.extra or {}), **extra}
        described = described.type
    plain = PLAIN_READERS.get(type(described))
    if plain is not None:
        return plain
    match described:
        case inspect.StructType():
            return reader_of(described.cls)
        case inspect.DecimalType():
            return decimal_reader(extra["bounds"], extra["unit"])
        case inspect.IntType():
            return whole_number_reader(described)
        case inspect.StrType():
            return text_reader(described, extra.get("refers_to"), extra.get("form"))
        case inspect.LiteralType():
            return word_reader(described)
        case inspect.ListType():
            return _list_reader(described)
        case inspect.DictType():
            return _dict_reader(described)
    raise TypeError(f"the contract has a member of a type that nothing reads: {described}")


def _list_reader(described: inspect.ListType) -> Reader:
    item = _reader(described.item_type)
    fewest, most = described.min_length or 0, described.max_length

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, list):
            return reading.refuse(place, f"must be a list, not {kind_of(value)}")
        if len(value) < fewest or (most is not None and len(value) > most):
            return reading.refuse(place, f"must have {fewest} to {most} entries, not {len(value)}")
        return [item(entry, (place, n), reading) for n, entry in enumerate(value)]

    return read


def _dict_reader(described: inspect.DictType) -> Reader:
    code, entry = _reader(described.key_type), _reader(described.value_type)

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, dict):
            return reading.refuse(place, f"must be an object by code, not {kind_of(value)}")
        for key in value:
            code(key, (place, key), reading)
        return {key: entry(sent, (place, key), reading) for key, sent in value.items()}

    return read

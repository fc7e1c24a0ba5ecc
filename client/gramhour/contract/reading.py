"""Reads what a caller sent into the contract's types and collects every fault on the way.

A library's decoder stops at the first fault, and takes "NaN", "1_000" or "1E+999999" for a
decimal. Here each type of the contract is compiled once into a reader that goes on after a
fault, so that one answer names them all. A reader knows shapes, bounds, members that exclude
each other and codes that must exist; it knows nothing of costing.
"""

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, TypeVar

import msgspec
from msgspec import inspect

from gramhour.contract.calibration import CalibrationRequest
from gramhour.contract.changes import RateChanges
from gramhour.contract.comparison import ComparisonRequest
from gramhour.contract.leaves import (
    FAULTY,
    Codes,
    Place,
    Reader,
    Reading,
    decimal_reader,
    kind_of,
    read_bool,
    read_day,
    read_moment,
    text_reader,
    whole_number_reader,
    word_reader,
)
from gramhour.contract.members import OneWay
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import KINDS, RateSheet
from gramhour.contract.repricing import ApplyRequest, RepricingRequest
from gramhour.contract.request import (
    ListedItem,
    ListedRequest,
    MeasuredItem,
    MeasuredRequest,
    QuoteItem,
    QuoteRequest,
)
from gramhour.contract.seals import SealShown
from gramhour.contract.workload import Workload

T = TypeVar("T", bound=msgspec.Struct)

PLAIN_READERS: Mapping[type[inspect.Type], Reader] = {
    inspect.AnyType: lambda value, *_: value,
    inspect.BoolType: read_bool,
    inspect.DateType: read_day,
    inspect.DateTimeType: read_moment,
}
"""The readers of what has no bounds but its own."""


def read_request(
    sent: Any, sheet: RateSheet | None = None, *, names_codes: bool = True
) -> QuoteRequest:
    """Read a quote request, alone or one of many (with a ``reference``).

    Codes must exist in its own ``rates``, else in ``sheet``, or in its ``rate_overrides``;
    ``names_codes`` says whether a fault may name one that the caller did not. A member that was
    read before stands as it is. Raises ``Refused`` with every fault found.
    """
    into = QuoteItem if isinstance(sent, dict) and "reference" in sent else QuoteRequest
    return _read(into, sent, _codes_for(sent, sheet), "invalid-request", names_codes=names_codes)


def read_comparison(sent: Any, sheet: RateSheet | None = None) -> ComparisonRequest:
    """Read what is to be compared, its codes as those of a quote request.

    Raises ``Refused`` with every fault found.
    """
    return _read(ComparisonRequest, sent, _codes_for(sent, sheet), "invalid-request")


def read_calibration(sent: Any, sheet: RateSheet | None) -> CalibrationRequest:
    """Read builds that were timed. Raises ``Refused`` with every fault found."""
    return _read(CalibrationRequest, sent, _codes_for(sent, sheet), "invalid-request")


def _codes_for(sent: Any, sheet: RateSheet | None) -> Codes:
    """List the codes that a request may name. Raises ``Refused`` where there are no rates."""
    own = sent.get("rates") if isinstance(sent, dict) else None
    if own is None and sheet is None and isinstance(sent, dict):
        raise Refused(
            "no-rates",
            (Fault("/rates", "no rate sheet: send one as 'rates', or name one to price with"),),
        )
    codes = codes_of(own if own is not None else sheet)
    overrides = sent.get("rate_overrides") if isinstance(sent, dict) else None
    if overrides is not None:
        more = codes_of(overrides)
        codes = {kind: (*codes[kind], *more[kind]) for kind in KINDS}
    return codes


def read_changes(sent: Any) -> RateChanges:
    """Read changes of the rates; the rates themselves are read within the sheet they make.

    Raises ``Refused`` with every fault found.
    """
    return _read(RateChanges, sent, {}, "invalid-request")


def read_workload(sent: Any, sheet: RateSheet | None) -> Workload:
    """Read a workload of the machines of a sheet. Raises ``Refused`` with every fault found."""
    return _read(Workload, sent, codes_of(sheet), "invalid-request")


def read_listed_request(sent: Any) -> ListedRequest:
    """Read a request for a listed product, alone or one of many (with a ``reference``).

    Raises ``Refused`` with every fault found.
    """
    into = ListedItem if isinstance(sent, dict) and "reference" in sent else ListedRequest
    return _read(into, sent, {}, "invalid-request")


def read_measured_request(
    sent: Any, sheet: RateSheet | None, *, names_codes: bool = True
) -> MeasuredRequest:
    """Read a request for a measured file, alone or one of many (with a ``reference``).

    Raises ``Refused`` with every fault found.
    """
    into = MeasuredItem if isinstance(sent, dict) and "reference" in sent else MeasuredRequest
    return _read(into, sent, _codes_for(sent, sheet), "invalid-request", names_codes=names_codes)


def read_repricing(sent: Any) -> RepricingRequest:
    """Read what is to be priced anew. Raises ``Refused`` with every fault found."""
    return _read(RepricingRequest, sent, {}, "invalid-request")


def read_apply(sent: Any) -> ApplyRequest:
    """Read which prices are to hold. Raises ``Refused`` with every fault found."""
    return _read(ApplyRequest, sent, {}, "invalid-request")


def read_seal_shown(sent: Any) -> SealShown:
    """Read a seal that somebody shows. Raises ``Refused`` with every fault found."""
    return _read(SealShown, sent, {}, "invalid-request")


def entry_reader(into: type[T], sheet: RateSheet) -> Callable[[Any], T]:
    """Make the reader of products or listings, whose codes must be those of a sheet.

    It raises ``Refused`` with every fault found.
    """
    codes = {kind: frozenset(codes) for kind, codes in codes_of(sheet).items()}
    return lambda sent: _read(into, sent, codes, "invalid-request")


def read_sheet(sent: Any) -> RateSheet:
    """Read a rate sheet; the codes that it refers to must be its own.

    Raises ``Refused`` with every fault found.
    """
    return _read(RateSheet, sent, codes_of(sent), "invalid-rates")


def codes_of(sheet: Any) -> Codes:
    """List the codes of each kind in a sheet, read or as sent."""
    if isinstance(sheet, RateSheet):
        kinds = {kind: getattr(sheet, kind) for kind in KINDS}
    else:
        kinds = {kind: sheet.get(kind) if isinstance(sheet, dict) else None for kind in KINDS}
    return {kind: codes if isinstance(codes, dict) else () for kind, codes in kinds.items()}


def _read(into: type[T], sent: Any, codes: Codes, refusal: str, *, names_codes: bool = True) -> T:
    reading = Reading([], codes, names_codes)
    value = reader_of(into)(sent, (), reading)
    if reading.faults:
        raise Refused(refusal, tuple(reading.faults))
    assert isinstance(value, into)
    return value


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
            return decimal_reader(extra["bounds"])
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

"""Reads what a caller sent into the contract's types and collects every fault on the way.

A library's decoder stops at the first fault, and takes "NaN", "1_000" or "1E+999999" for a
decimal. Here each type of the contract is compiled once into a reader that goes on after a
fault, so that one answer names them all. A reader knows shapes, bounds, members that exclude
each other and codes that must exist; it knows nothing of costing.
"""

import difflib
import re
from collections.abc import Callable, Collection, Mapping
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple, TypeVar

import msgspec
from msgspec import inspect

from gramhour.contract.members import DECIMALS, LARGEST, OneWay
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.request import QuoteRequest
from gramhour.contract.rates import RateSheet

MOST_SUGGESTIONS = 50

FAULTY: Any = object()
"""Stands for a value that could not be read; its fault is already noted."""

PLAIN_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?", re.ASCII)
KINDS = ("materials", "nozzles", "machines", "components", "channels")

Place = tuple[str | int, ...]
Codes = Mapping[str, Collection[str]]
T = TypeVar("T", bound=msgspec.Struct)


class Reading(NamedTuple):
    """What one reading gathers and what it may look up."""

    faults: list[Fault]
    codes: Codes

    def refuse(self, place: Place, detail: str) -> Any:
        """Note a fault; the value stands as faulty."""
        self.faults.append(Fault(pointer(*place), detail))
        return FAULTY

    def nearest(self, name: str, known: Collection[str]) -> str:
        """Say the nearest known name, if one is near (only for the first faults: it is slow)."""
        near: list[str] = []
        if len(self.faults) < MOST_SUGGESTIONS:
            near = difflib.get_close_matches(name[:100], known, n=1)
        return f"; did you mean '{near[0]}'?" if near else ""


Reader = Callable[[Any, Place, Reading], Any]


def read_request(sent: Any, sheet: RateSheet | None = None) -> QuoteRequest:
    """Read a quote request; codes must exist in its own ``rates``, else in ``sheet``.

    Raises ``Refused`` with every fault found.
    """
    own = sent.get("rates") if isinstance(sent, dict) else None
    if own is None and sheet is None:
        raise Refused(
            "no-rates",
            (Fault("/rates", "no rate sheet: send one as 'rates', or name one to price with"),),
        )
    return _read(QuoteRequest, sent, codes_of(own if own is not None else sheet), "invalid-request")


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
    return {kind: tuple(codes) if isinstance(codes, dict) else () for kind, codes in kinds.items()}


def _read(into: type[T], sent: Any, codes: Codes, refusal: str) -> T:
    reading = Reading([], codes)
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
    members = {field.encode_name: (_reader(field.type), field.required) for field in described.fields}
    needed = [name for name, (_, required) in members.items() if required]
    one_way: tuple[OneWay, ...] = getattr(struct, "one_way", ())

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, dict):
            return reading.refuse(place, f"must be an object of members, not {_kind(value)}")
        before = len(reading.faults)
        given: dict[str, Any] = {}
        for name, sent in value.items():
            known = members.get(name)
            if known is None:
                near = reading.nearest(name, members)
                reading.refuse((*place, name), f"unknown member '{name}'{near}; remove or rename it")
            else:
                given[name] = known[0](sent, (*place, name), reading)
        for name in needed:
            if name not in value:
                reading.refuse((*place, name), f"'{name}' is missing; it has no default")
        for choice in one_way:
            _check_one_way(choice, given, place, reading)
        return struct(**given) if len(reading.faults) == before else FAULTY

    return read


def _check_one_way(choice: OneWay, given: Mapping[str, Any], place: Place, reading: Reading) -> None:
    """Of several ways to give one thing exactly one is given, and whole."""
    used = [way for way in choice.ways if any(name in given for name in (*way.needs, *way.may_have))]
    names = [" + ".join(way.needs or way.may_have) for way in choice.ways]
    if len(used) > 1:
        found = [name for way in used for name in (*way.needs, *way.may_have) if name in given]
        reading.refuse(
            place, f"{', '.join(found)} exclude each other; give exactly one of: {'; '.join(names)}"
        )
    elif not used and choice.required:
        reading.refuse(place, f"give exactly one of: {'; '.join(names)}")
    elif used:
        for name in used[0].needs:
            if name not in given:
                reading.refuse((*place, name), f"'{name}' is missing beside the others of its kind")


def _reader(described: inspect.Type) -> Reader:
    """Compile the reader of a member: its shape first, then what its declaration adds."""
    extra: dict[str, Any] = {}
    while isinstance(described, inspect.Metadata):
        extra = {**(described.extra or {}), **extra}
        described = described.type
    match described:
        case inspect.StructType():
            # Compiled when first used: a type may hold itself.
            return lambda value, place, reading: reader_of(described.cls)(value, place, reading)
        case inspect.DecimalType():
            return _decimal_reader(extra["bounds"])
        case inspect.IntType():
            return _whole_number_reader(described)
        case inspect.BoolType():
            return _read_bool
        case inspect.StrType():
            return _text_reader(described, extra.get("refers_to"))
        case inspect.LiteralType():
            return _word_reader(described)
        case inspect.ListType():
            return _list_reader(described)
        case inspect.DictType():
            return _dict_reader(described)
    raise TypeError(f"the contract has a member of a type that nothing reads: {described}")


def _decimal_reader(bounds: Mapping[str, Decimal]) -> Reader:
    least, above = bounds.get("minimum"), bounds.get("exclusiveMinimum")
    most, below = bounds.get("maximum", LARGEST), bounds.get("exclusiveMaximum")

    def read(value: Any, place: Place, reading: Reading) -> Any:
        number = _exact(value)
        if isinstance(number, str):
            return reading.refuse(place, number)
        if least is not None and number < least:
            return reading.refuse(place, f"must be {least} or more, not {_short(value)}")
        if above is not None and number <= above:
            return reading.refuse(place, f"must be above {above}, not {_short(value)}")
        if below is not None and number >= below:
            return reading.refuse(place, f"must be below {below}, not {_short(value)}")
        if number > most or number < -LARGEST:
            return reading.refuse(place, f"must be {most} or less, not {_short(value)}")
        return number

    return read


def _exact(value: Any) -> Decimal | str:
    """Read a number exactly, or say in words why it is none."""
    if isinstance(value, Decimal):
        number = value
    elif isinstance(value, str):
        if not PLAIN_NUMBER.fullmatch(value):
            return f"must be a plain decimal number such as 12.50, not {_short(value)}"
        number = Decimal(value)
    elif isinstance(value, int) and not isinstance(value, bool):
        if abs(value) > LARGEST:
            return f"must be within ±{LARGEST}, not {_short(value)}"
        return Decimal(value)
    else:
        return f"must be a number, not {_kind(value)}"
    if not number.is_finite():
        return f"must be a finite number, not {_short(value)}"
    if number.is_zero():
        return "must not be minus zero; write 0" if number.is_signed() else Decimal(0)
    if number.adjusted() > LARGEST.adjusted():
        return f"must be within ±{LARGEST}, not {_short(value)}"
    _, digits, exponent = number.as_tuple()
    assert isinstance(exponent, int)
    if -exponent > DECIMALS and any(digits[exponent + len(digits) + DECIMALS :]):
        return f"must have at most {DECIMALS} decimals, not {_short(value)}"
    return number


def _whole_number_reader(described: inspect.IntType) -> Reader:
    least, most = described.ge, described.le

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, int) or isinstance(value, bool):
            shown = _short(value) if isinstance(value, Decimal | str) else _kind(value)
            return reading.refuse(place, f"must be a whole number without quotes, not {shown}")
        if (least is not None and value < least) or (most is not None and value > most):
            return reading.refuse(place, f"must be from {least} to {most}, not {_short(value)}")
        return value

    return read


def _read_bool(value: Any, place: Place, reading: Reading) -> Any:
    if isinstance(value, bool):
        return value
    return reading.refuse(place, f"must be true or false, not {_kind(value)}")


def _text_reader(described: inspect.StrType, refers_to: str | None) -> Reader:
    pattern = re.compile(described.pattern) if described.pattern else None
    longest = described.max_length

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, str):
            return reading.refuse(place, f"must be a text in quotes, not {_kind(value)}")
        if refers_to and value not in reading.codes[refers_to]:
            near = reading.nearest(value, reading.codes[refers_to])
            return reading.refuse(
                place, f"unknown code {_short(value)}: the sheet has none such in {refers_to}{near}"
            )
        if pattern and not pattern.fullmatch(value):
            return reading.refuse(place, f"{_short(value)} does not match {described.pattern}")
        if longest is not None and len(value) > longest:
            return reading.refuse(place, f"must have at most {longest} characters, not {len(value)}")
        return value

    return read


def _word_reader(described: inspect.LiteralType) -> Reader:
    words = tuple(str(word) for word in described.values)

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if isinstance(value, str) and value in words:
            return value
        shown = _short(value) if isinstance(value, str) else _kind(value)
        near = reading.nearest(value, words) if isinstance(value, str) else ""
        return reading.refuse(place, f"must be one of: {', '.join(words)}; not {shown}{near}")

    return read


def _list_reader(described: inspect.ListType) -> Reader:
    item = _reader(described.item_type)
    fewest, most = described.min_length or 0, described.max_length

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, list):
            return reading.refuse(place, f"must be a list, not {_kind(value)}")
        if len(value) < fewest or (most is not None and len(value) > most):
            return reading.refuse(place, f"must have {fewest} to {most} entries, not {len(value)}")
        return [item(entry, (*place, n), reading) for n, entry in enumerate(value)]

    return read


def _dict_reader(described: inspect.DictType) -> Reader:
    code, entry = _reader(described.key_type), _reader(described.value_type)

    def read(value: Any, place: Place, reading: Reading) -> Any:
        if not isinstance(value, dict):
            return reading.refuse(place, f"must be an object by code, not {_kind(value)}")
        for key in value:
            code(key, (*place, key), reading)
        return {key: entry(sent, (*place, key), reading) for key, sent in value.items()}

    return read


def _short(value: object) -> str:
    """Show what was sent, cut to a line."""
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= 50 else f"{text[:40]}… ({len(text)} characters)"


def _kind(value: object) -> str:
    match value:
        case None:
            return "null"
        case bool():
            return str(value).lower()
        case dict():
            return "an object"
        case list():
            return "a list"
        case str():
            return "a text"
    return f"a {type(value).__name__.lower()}"

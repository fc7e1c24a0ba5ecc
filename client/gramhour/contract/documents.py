"""JSON and TOML text into plain values, numbers exact, before anything is read into them."""

import json
import re
import tomllib
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

from gramhour.contract.leaves import without_marks
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.times import why_no_time

MINUS_ZERO = Decimal("-0")
LONGEST_INTEGER = 40
"""Digits beyond which no bound of the contract holds, and reading them would take long."""
BYTE_ORDER_MARK = "\ufeff"
TOO_DEEP = "nested too deeply; a request needs about ten levels"
ONE_COMMENT = (
    "it is one line, and that a comment: its line ends are missing; with curl send the file by "
    "--data-binary, since --data takes them out"
)
ONE_LINE = (
    "; if these were several lines, their ends are missing: with curl send the file by "
    "--data-binary, since --data takes them out"
)
YAML = re.compile(r"---\s*$|[ ]*(?:- )?[A-Za-z_][A-Za-z0-9_-]*:(?:\s|$)")
"""A line of it."""
LONGEST_NAME = 63
MOST_DOTS = 100
"""Dotted keys cost their length squared to read; far fewer are needed."""


def parse_json(body: bytes) -> Any:
    """Parse a JSON document (RFC 8259); no number goes through a binary float.

    Duplicate members are refused. Raises ``Refused`` with the line where it breaks off.
    """
    text = _text(body)
    if text.startswith(BYTE_ORDER_MARK):
        _refuse("it begins with a byte order mark; save it without one")
    try:
        return DECODER.decode(text)
    except RecursionError:
        _refuse(TOO_DEEP)
    except json.JSONDecodeError as error:
        _refuse(f"not JSON at line {error.lineno}, column {error.colno}: {error.msg}")
    except ValueError as error:
        _refuse(str(error))


def parse_toml(body: bytes) -> Any:
    """Parse a TOML document; no number goes through a binary float.

    Raises ``Refused`` with the line where it breaks off.
    """
    if body.lstrip().startswith(b"#") and b"\n" not in body:
        _refuse(ONE_COMMENT)
    if any(part.count(b".") > MOST_DOTS for part in re.split(rb"[=,{}\[\]\n]", body)):
        _refuse(TOO_DEEP)
    try:
        return tomllib.loads(_text(body), parse_float=_number)
    except RecursionError:
        _refuse(TOO_DEEP)
    except tomllib.TOMLDecodeError as error:
        _refuse(f"not TOML: {error}{_hint(body, str(error))}")
    except ValueError:
        _refuse("a whole number in it has thousands of digits; no member needs more than ten")


def _text(body: bytes) -> str:
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        _refuse(f"not UTF-8 at byte {error.start}; save it as UTF-8")


def _number(text: str) -> Decimal | str:
    """Read a number; one whose exponent nothing can hold stays a text, to be refused in place."""
    try:
        return Decimal(text)
    except InvalidOperation:
        return text


def _hint(body: bytes, error: str) -> str:
    """Say what to do where a decimal comma, a day of another form or lost line ends broke it."""
    if b"\n" not in body and body.count(b"=") > 1:
        return ONE_LINE
    place = re.search(r"line (\d+)", error)
    lines = body.decode().splitlines()
    line = lines[int(place[1]) - 1] if place and int(place[1]) <= len(lines) else ""
    if YAML.match(line):
        return "; this looks like YAML, which is not read: write TOML or JSON"
    if day := re.search(r"\b\d{1,2}[./]\d{1,2}[./]\d{4}\b", line):
        return f"; if {day[0]} is a day, write it year first, such as 2099-01-05"
    if (day := re.search(r"\b\d{4}-\d{2}-\d{2}\b", line)) and (told := why_no_time(day[0])):
        return f"; {told}"
    for marked in re.finditer(r"-?\d[\d.,]{0,40}", line):
        if {".", ","} <= set(marked[0]) and (plain := without_marks(marked[0])):
            return f"; if {marked[0]} is a number, write {plain}"
    comma = re.search(r"(?<!\d)(\d{1,20}),(\d{1,20})", line)
    if comma is None:
        return ""
    return f"; if {comma[0]} has a decimal comma, write {comma[1]}.{comma[2]}"


def _whole(text: str) -> int | Decimal:
    if len(text) > LONGEST_INTEGER:
        return Decimal(text)
    return MINUS_ZERO if text == "-0" else int(text)


def _constant(text: str) -> NoReturn:
    raise ValueError(f"{text} is not a JSON number")


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        seen: set[str] = set()
        for name, _ in pairs:
            if name in seen:
                short = name[:LONGEST_NAME]
                raise ValueError(f"the member '{short}' stands twice in one object; keep one")
            seen.add(name)
    return members


DECODER = json.JSONDecoder(
    parse_float=_number, parse_int=_whole, parse_constant=_constant, object_pairs_hook=_members
)


def _refuse(detail: str) -> NoReturn:
    raise Refused("malformed-document", (Fault("", detail),))

"""Writes the faults of a request beside what was asked, for people."""

from collections.abc import Mapping
from typing import Any

import msgspec
from msgspec import UNSET

from gramhour.contract.problem import Fault, Problem

LONGEST_SHOWN = 60
ABSENT: Any = object()


def beside(problem: Problem, sent: Any) -> str:
    """Write every fault of a problem beside what the request says at its place.

    ``sent`` is a request as it was sent: plain values, or a type of the contract. Of a call
    without a body it is the query's parameters.
    """
    plain = msgspec.to_builtins(sent) if isinstance(sent, msgspec.Struct) else sent
    told = [f"{problem.title} ({problem.status} {problem.type.rpartition('/')[2]})"]
    for fault in problem.errors:
        found = _shown(_value_at(fault, plain))
        place = ": ".join(part for part in (fault.place, found) if part)
        told += [place, f"    {fault.detail}"] if place else [f"    {fault.detail}"]
    return "\n".join(told)


def _value_at(fault: Fault, sent: Any) -> Any:
    """Find what the request says at a fault's place."""
    if fault.parameter is not UNSET:
        return sent.get(fault.parameter, ABSENT) if isinstance(sent, Mapping) else ABSENT
    if fault.pointer is UNSET or fault.pointer == "":
        return ABSENT
    for step in fault.pointer[1:].split("/"):
        sent = _within(sent, step.replace("~1", "/").replace("~0", "~"))
    return sent


def _within(value: Any, step: str) -> Any:
    """Take one step of a pointer (RFC 6901)."""
    if isinstance(value, Mapping):
        return value.get(step, ABSENT)
    if isinstance(value, list) and step.isdecimal() and int(step) < len(value):
        return value[int(step)]
    return ABSENT


def _shown(value: Any) -> str:
    if value is ABSENT:
        return ""
    try:
        text = msgspec.json.encode(value).decode()
    except (TypeError, ValueError, RecursionError):  # what could not be sent either
        text = f"(a {type(value).__name__})"
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"

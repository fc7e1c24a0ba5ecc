"""A rate in words: its members as its form calls them, each with its unit.

What a table says in a line and what a revision changed are read by people; a member that no form
knows is told as it stands.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.rate_form import SHOP, rate_form
from gramhour_service.pages.desk.texts import spaced, value_told

UNSAID = ("name", "note")
"""What stands beside a rate, not in it."""


class Said(NamedTuple):
    """A member of a rate: what it is called, and its value with its unit."""

    label: str
    value: str


def rate_called(kind: str, code: str) -> str:
    """Say what people call a rate: by its code, and what is the whole shop's in words."""
    form = rate_form(kind, code) if kind == SHOP else None
    return code if form is None else form.label


def rate_said(rate: Any, kind: str, code: str, currency: str) -> list[Said]:
    """Say what a rate holds; one that is a single value has no labels."""
    form = rate_form(kind, code)
    if form is None or not isinstance(rate, dict) or not form.within:
        return [Said("", _value(form, rate, currency))]
    members = _by_name(form)
    return [
        Said(_label(members.get(name), name), _value(members.get(name), value, currency))
        for name, value in rate.items()
        if name not in UNSAID
    ]


def place_said(pointer: str, kind: str, code: str) -> str:
    """Say which member of a rate a pointer names: /offer/tiers/0 is "offer, tier 1"."""
    member, said = rate_form(kind, code), list[str]()
    for step in pointer.split("/")[1:]:
        if step.isdecimal() and member is not None and member.kind == "rows" and said:
            said[-1] = f"{member.one} {int(step) + 1}"
            continue
        member = None if member is None else _by_name(member).get(step)
        said.append(_label(member, step))
    return ", ".join(said)


def _by_name(member: Member) -> Mapping[str, Member]:
    return {each.name: each for each in member.within}


def _label(member: Member | None, name: str) -> str:
    return spaced(name) if member is None else member.label


def _value(member: Member | None, value: Any, currency: str) -> str:
    if member is None:
        return value_told(value)
    match value:
        case bool():
            return "yes" if value else "no"
        case dict() if member.within:
            return ", ".join(_named(member, value, currency))
        case list() if member.within:
            return "; ".join(", ".join(_named(member, each, currency)) for each in value) or "none"
        case dict() | list():
            return value_told(value)
    if member.label.endswith(member.unit):
        return str(value)
    return f"{value} {member.unit.replace('currency', currency)}"


def _named(member: Member, value: Mapping[str, Any], currency: str) -> list[str]:
    members = _by_name(member)
    return [
        f"{_label(members.get(name), name)} {_value(members.get(name), each, currency)}"
        for name, each in value.items()
    ]

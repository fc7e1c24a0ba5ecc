"""A rate in words: its members as its form calls them, each with its unit.

What a table says in a line and what a revision changed are read by people; a member that no form
knows is told as it stands.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from gramhour_service.pages.desk.places import label_of, place_said
from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.rate_form import SHOP, rate_form
from gramhour_service.pages.desk.texts import value_told

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
        Said(label_of(members.get(name), name), _value(members.get(name), value, currency))
        for name, value in rate.items()
        if name not in UNSAID
    ]


def rate_place(pointer: str, kind: str, code: str) -> str:
    """Say which member of a rate a pointer names."""
    return place_said(rate_form(kind, code), pointer)


def _by_name(member: Member) -> Mapping[str, Member]:
    return {each.name: each for each in member.within}


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
        f"{label_of(members.get(name), name)} {_value(members.get(name), each, currency)}"
        for name, each in value.items()
    ]

"""Names a place of a document in the words of its form: what a pointer says to programs."""

import re
from collections.abc import Iterator
from functools import cache

from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.texts import spaced

SEVERAL = ("rows", "numbers", "texts", "words")
"""Kinds of members that hold entries without names."""
WIRE_NAME = re.compile(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b", re.ASCII)


def place_said(member: Member | None, pointer: str) -> str:
    """Say what a pointer into a member names: /offer/tiers/0 of a filament is "offer, tier 1".

    What no form knows is told as it stands.
    """
    said: list[str] = []
    for step in pointer.split("/")[1:]:
        if step.isdecimal() and member is not None and member.kind in SEVERAL:
            said[-1:] = [f"{member.one} {int(step) + 1}"]
            continue
        member = _within(member, step)
        said.append(label_of(member, step))
    return ", ".join(said)


def in_words(member: Member | None, detail: str) -> str:
    """Say what is wrong with other members called as the form calls them, not as programs do."""
    if member is None:
        return detail
    labels = _labels(member)
    return WIRE_NAME.sub(lambda found: labels.get(found[0], found[0]), detail)


@cache
def _labels(member: Member) -> dict[str, str]:
    return {each.name: each.label for each in _all_within(member)}


def _all_within(member: Member) -> Iterator[Member]:
    yield member
    for each in member.within:
        yield from _all_within(each)


def unit_at(member: Member | None, pointer: str) -> str:
    """Say in which unit a number stands that a pointer names; "currency" for the sheet's."""
    for step in pointer.split("/")[1:]:
        is_row = step.isdecimal() and member is not None and member.kind == "rows"
        member = member if is_row else _within(member, step)
    return "" if member is None else member.unit


def _within(member: Member | None, name: str) -> Member | None:
    within = () if member is None else member.within
    return next((each for each in within if each.name == name), None)


def label_of(member: Member | None, name: str) -> str:
    """Say what a member is called."""
    return spaced(name) if member is None else member.label

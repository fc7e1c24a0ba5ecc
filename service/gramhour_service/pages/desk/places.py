"""Names a place of a document in the words of its form: what a pointer says to programs."""

from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.texts import spaced

SEVERAL = ("rows", "numbers", "texts", "words")
"""Kinds of members that hold entries without names."""


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

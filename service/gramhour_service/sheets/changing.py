"""Single rates changed: several as one revision, or one under the tag it was seen with."""

import difflib
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.changes import RateChange, RateChanges
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import KINDS, RateSheet
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.rows import SHEET_WIDE, SHOP, plain_sheet_from, put_rate, same_value
from gramhour_service.sheets.saving import Dated, MakeSheet, NeedsNote, Saved, State, save
from gramhour_service.store.rates import Change, Key, changes_between, planned_changes, revision_of

MOST_TOLD = 20
NEAR = 0.8
NOTHING_YET = (
    "no rates are in force on {}, so there is nothing to change: the first ones hold from {} on; "
    "let the change hold from then on, or import a whole sheet from an earlier day"
)
BEGIN = (
    "nothing is saved yet: a first change (POST /v1/rate-changes, based on revision 0) holds all "
    "that a sheet needs; or gramhour rates import takes a sheet in"
)
BEGUN = "rates were saved meanwhile; the newest revision is {}: read it, and base the change on it"
NUMBERS = re.compile(r"[0-9]+")


class Edit(NamedTuple):
    """A rate as it is to be, or none to take it away, and where that stands in what was sent."""

    key: Key
    value: Any
    place: tuple[str | int, ...]
    value_place: tuple[str | int, ...]


def change_rates(store: Database, sent: RateChanges, dated: Dated, *, trial: bool = False) -> Saved:
    """Make several changes as one revision. Raises ``Refused`` with every fault found."""
    edits = edits_of(sent.changes, "changes")

    def make_sheet(state: State) -> RateSheet:
        if state.revision != sent.based_on_revision:
            raise _moved_on(store, sent.based_on_revision, state.revision)
        if first := _first_day_after(store, state):
            fault = Fault("/effective_from", NOTHING_YET.format(state.day, first))
            raise Refused("invalid-request", (fault,))
        return edited(state, edits)

    try:
        return _saved(store, make_sheet, dated, edits, trial=trial)
    except NeedsNote as error:
        raise Refused("invalid-request", (Fault("/note", str(error)),)) from None


def change_rate(
    store: Database, key: Key, value: Any, dated: Dated, check: Callable[[Change | None], None]
) -> Saved:
    """Change one rate, or take it away; ``check`` refuses a state that the caller has not seen.

    What is so already is no change, and is not checked: a repeated request meets its own success.
    Raises ``Refused``, of the parameter ``note`` where a past day needs one.
    """
    edits = [Edit(key, value, (), ())]

    def make_sheet(state: State) -> RateSheet:
        if first := _first_day_after(store, state):
            detail = NOTHING_YET.format(state.day, first)
            fault = Fault(UNSET, detail, parameter="effective_from")
            raise Refused("invalid-request", (fault,))
        current = state.present.get(key)
        wanted = None if value is None else msgspec.json.encode(value).decode()
        if current is None or not same_value(current.value, wanted):
            check(current)
        return edited(state, edits)

    try:
        return _saved(store, make_sheet, dated, edits)
    except NeedsNote as error:
        fault = Fault(UNSET, str(error), parameter="note")
        raise Refused("invalid-request", (fault,)) from None


def _first_day_after(store: Database, state: State) -> str | None:
    """Say from which day on there are rates, where none are in force on the day of a change."""
    if state.present:
        return None
    planned = planned_changes(store, state.revision, state.day)
    return planned[0].effective_from if planned else None


def _saved(
    store: Database, make_sheet: MakeSheet, dated: Dated, edits: list[Edit], *, trial: bool = False
) -> Saved:
    try:
        return save(store, make_sheet, dated, trial=trial)
    except Refused as refused:
        if refused.type != "invalid-rates":
            raise
        placed = tuple(_placed(fault, edits) for fault in refused.faults)
        raise Refused("invalid-request", placed) from None


def edited(state: State, edits: list[Edit]) -> RateSheet:
    """Make the sheet with rates put in or taken away. Raises ``Refused``, every fault in place."""
    sheet = plain_sheet_from(state.changes.values())
    faults = list(_faults_of(state, edits))
    for edit in edits:
        if is_rate(edit.key):
            put_rate(sheet, edit.key, edit.value)
    made: RateSheet | None = None
    try:
        made = sound_sheet(sheet)
    except Refused as refused:
        if state.revision:
            faults += [_placed(fault, edits) for fault in refused.faults]
        else:
            faults += _placed_in_first(refused.faults, edits)
    if faults or made is None:
        raise Refused("invalid-request", tuple(faults))
    return made


def is_rate(key: Key) -> bool:
    """Say whether a kind may have such a code: what is sheet-wide has names of its own."""
    kind, code = key
    return code in SHEET_WIDE if kind == SHOP else kind in KINDS


def edits_of(changes: Sequence[RateChange], member: str) -> list[Edit]:
    """Make edits of the changes that stand in a member of what was sent. Raises ``Refused``."""
    unclear = tuple(
        Fault(pointer(member, n, "remove"), "must be true; else give the rate as value")
        for n, change in enumerate(changes)
        if change.remove is False
    )
    if unclear:
        raise Refused("invalid-request", unclear)
    return [
        Edit(
            (change.kind, change.code),
            None if change.value is UNSET else change.value,
            (member, n),
            (member, n, "value"),
        )
        for n, change in enumerate(changes)
    ]


def _faults_of(state: State, edits: list[Edit]) -> Iterator[Fault]:
    present, seen = state.present, set[Key]()
    for edit in edits:
        name, place = "/".join(edit.key), pointer(*edit.place)
        if not is_rate(edit.key):
            detail = f"there is no {name}: what is sheet-wide is {', '.join(SHEET_WIDE)}"
            yield Fault(place, detail)
        elif edit.key in seen:
            yield Fault(place, f"{name} is changed twice; once is enough")
        elif edit.value is None and edit.key not in present:
            near = nearest_code(edit.key, present)
            meant = f"; did you mean '{near}'?" if near else ""
            yield Fault(place, f"there is no {name} to take away on {state.day}{meant}")
        seen.add(edit.key)


def nearest_code(key: Key, present: Collection[Key]) -> str | None:
    """Find the code of a kind that is nearly the one named, as after a slip of the pen.

    Codes that differ in their numbers only (n04, n06) are different things.
    """
    kind, code = key
    letters = NUMBERS.sub("", code)
    known = [own for of, own in present if of == kind and NUMBERS.sub("", own) != letters]
    near = difflib.get_close_matches(code, known, n=1, cutoff=NEAR)
    return near[0] if near else None


def _placed(fault: Fault, edits: list[Edit]) -> Fault:
    """Point into what was sent; what dangles elsewhere is named in words."""
    at = fault.pointer or ""
    for edit in edits:
        own = pointer(*(edit.key[1:] if edit.key[0] == SHOP else edit.key))
        if edit.value is not None and (at == own or at.startswith(f"{own}/")):
            return Fault(pointer(*edit.value_place) + at.removeprefix(own), fault.detail)
    return Fault("", f"with this change, {at.removeprefix('/') or 'the sheet'}: {fault.detail}")


def _placed_in_first(faults: Sequence[Fault], edits: list[Edit]) -> Iterator[Fault]:
    """Point into the first of all changes; what is sheet-wide and not given in it is told once."""
    given = {edit.key for edit in edits if edit.value is not None}
    absent = {pointer(name) for name in SHEET_WIDE if (SHOP, name) not in given}
    if missing := [f"{SHOP}{at}" for fault in faults if (at := fault.pointer) in absent]:
        are = "are" if len(missing) > 1 else "is"
        detail = f"{', '.join(missing)} {are} missing: {BEGIN}"
        yield Fault(pointer(*edits[0].place[:-1]), detail)
    yield from (_placed(fault, edits) for fault in faults if fault.pointer not in absent)


def _moved_on(store: Database, based_on: int, newest: int) -> Refused:
    """Say what changed since the revision that a change was based on."""
    if based_on > newest:
        detail = f"there is no such revision yet; the newest is {newest}" if newest else BEGIN
        return Refused("invalid-request", (Fault("/based_on_revision", detail),))
    if not based_on:
        fault = Fault("/based_on_revision", BEGUN.format(newest))
        return Refused("moved-on", (fault,))
    since = [told_in_words(store, change) for change in changes_between(store, based_on, newest)]
    told = tuple(Fault("/based_on_revision", detail) for detail in since[:MOST_TOLD])
    return Refused("moved-on", told)


def told_in_words(store: Database, change: Change) -> str:
    """Say who changed a rate, from when and why."""
    revision = revision_of(store, change.revision)
    done = "takes away" if change.value is None else "changes"
    note = f": {revision.note}" if revision.note else ""
    return (
        f"revision {revision.number} by {revision.made_by} {done} {change.kind}/{change.code} "
        f"from {change.effective_from}{note}"
    )

"""A change of the rates: one revision of what differs, or none; sound on every day it holds."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, date, datetime
from typing import NamedTuple

from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.days import day_at
from gramhour_service.resolve.relative import doubtful_prices, said_of
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.left_out import left_out
from gramhour_service.sheets.rows import differences, rates_of, same_value, sheet_from
from gramhour_service.store.entries import users_of
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import (
    Change,
    Key,
    add_revision,
    latest_changes,
    newest_revision,
    planned_changes,
)

MOST_NAMED = 20
PAST_NEEDS_NOTE = "a change dated before today ({}) needs a note that says why"


class NeedsNote(Exception):
    """A change dated in the past does not say why; the text says so."""


class Dated(NamedTuple):
    """Who changes the rates, when, why, and the day that it is to be in force from."""

    now: datetime
    made_by: str
    note: str = ""
    effective_from: date | None = None


class State(NamedTuple):
    """The rates as they are on the day of a change, before it."""

    revision: int
    day: date
    changes: Mapping[Key, Change]

    @property
    def present(self) -> dict[Key, Change]:
        """The changes of the rates that are there."""
        return {key: change for key, change in self.changes.items() if change.value is not None}


class Saved(NamedTuple):
    """What a change did: the new revision, if anything differed, and each rate before and after.

    ``overruled_by`` lists the planned changes of the same rates that come later and stand. Of a
    trial the revision is what it would have been. ``left_out`` says what changed rates had before
    and have no longer, ``doubted`` which of their prices hardly stand with others of the sheet.
    """

    revision: int | None
    effective_from: date
    before: Mapping[Key, str | None]
    changes: Mapping[Key, str | None]
    overruled_by: list[Change]
    left_out: tuple[str, ...] = ()
    doubted: tuple[str, ...] = ()

    @property
    def added(self) -> frozenset[Key]:
        """The rates that were not there before."""
        return frozenset(key for key, value in self.before.items() if value is None)

    def done(self, key: Key) -> str:
        """Say in a word what was done to a rate."""
        if self.changes[key] is None:
            return "removed"
        return "added" if key in self.added else "changed"


MakeSheet = Callable[[State], RateSheet]
"""Makes the sheet that is wanted from the rates as they are. May raise, and nothing is saved."""


def save(store: Database, make_sheet: MakeSheet, dated: Dated, *, trial: bool = False) -> Saved:
    """Put the wanted sheet in force from a day on, as one revision of what differs.

    The day is today, where the shop is, unless said. A ``trial`` does all of it and keeps
    nothing. Raises ``NeedsNote``, ``Refused`` if a later planned change would not fit or
    something that is taken away is used, and whatever ``make_sheet`` raises.
    """
    with writing(store, keep=not trial):
        state, sheet = _wanted(store, make_sheet, dated)
        present = state.present
        old = sheet_from(present.values()) if present else None
        changes = differences(old, sheet)
        if not changes:
            return Saved(None, state.day, {}, {}, [])
        _check_unused(store, [key for key, value in changes.items() if value is None])
        revision = add_revision(
            store,
            changes,
            effective_from=state.day,
            now=dated.now,
            made_by=dated.made_by,
            note=dated.note,
        )
        planned = planned_changes(store, revision, state.day)
        _check_later_days(store, revision, planned)
        return Saved(
            revision=revision,
            effective_from=state.day,
            before={key: present[key].value if key in present else None for key in changes},
            changes=changes,
            overruled_by=[c for c in planned if c.key in changes and not _is_same(c, changes)],
            left_out=() if old is None else tuple(_left_out(old, sheet, changes)),
            doubted=tuple(said_of(doubtful_prices(sheet), changes)),
        )


def import_sheet(
    store: Database,
    sheet: RateSheet,
    *,
    now: datetime,
    made_by: str,
    note: str = "",
    effective_from: date | None = None,
) -> Saved:
    """Put a sound sheet in force from a day on; see ``save``."""
    try:
        return save(store, lambda _: sheet, Dated(now, made_by, note, effective_from))
    except NeedsNote as error:
        raise Refused("invalid-rates", (Fault("", str(error)),)) from None


def _wanted(store: Database, make_sheet: MakeSheet, dated: Dated) -> tuple[State, RateSheet]:
    """Make the sheet that is wanted, on the day it is wanted from."""
    found = Sheets(store).pinned_today(dated.now)
    today = None if found is None else found.on
    state = _state(store, dated.effective_from or today or dated.now.astimezone(UTC).date())
    sheet = make_sheet(state)
    if today is None:  # nothing is in force yet: the new sheet says where the shop is
        today = day_at(dated.now, sheet)
        state = _state(store, dated.effective_from or today)
    if state.day < today and not dated.note:
        raise NeedsNote(PAST_NEEDS_NOTE.format(today))
    return state, sheet


def _check_unused(store: Database, gone: list[Key]) -> None:
    """Refuse to take away what products and listings name."""
    users = users_of(store, gone, MOST_NAMED)
    if users:
        faults = [
            Fault(UNSET, f"{'/'.join(key)} is used by {user}; change that first")
            for key, user in users
        ]
        raise Refused("in-use", tuple(faults))


def _state(store: Database, day: date) -> State:
    revision = newest_revision(store)
    return State(revision, day, latest_changes(store, revision, day))


def _left_out(old: RateSheet, new: RateSheet, changed: Iterable[Key]) -> Iterator[str]:
    """Say which members are gone of each changed rate that was there and is there."""
    before, now = rates_of(old), rates_of(new)
    for key in changed:
        for says in left_out(before.get(key), now.get(key)):
            yield f"{'/'.join(key)}: {says}"


def _is_same(change: Change, changes: Mapping[Key, str | None]) -> bool:
    """Say whether a planned change puts in force what is in force by then."""
    return same_value(change.value, changes[change.key])


def _check_later_days(store: Database, revision: int, planned: list[Change]) -> None:
    """Check the sheet of each later day on which a planned change comes into force."""
    for day in sorted({change.effective_from for change in planned}):
        changes = latest_changes(store, revision, date.fromisoformat(day))
        try:
            sheet_from(changes.values())
        except Refused as refused:
            raise Refused(
                "invalid-rates",
                tuple(
                    Fault(f.pointer, f"{f.detail} (with the change planned for {day})")
                    for f in refused.faults
                ),
            ) from None

"""A whole sheet taken in: one revision of what changed, or none; sound on every day it holds."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import NamedTuple

from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.days import day_at
from gramhour_service.sheets.rows import differences, sheet_from
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import (
    Change,
    Key,
    add_revision,
    latest_changes,
    newest_revision,
    planned_changes,
)

PAST_NEEDS_NOTE = "a change dated before today ({}) needs a note that says why"


class Imported(NamedTuple):
    """What an import did: the new revision, if anything differed, and what it changed.

    ``overruled_by`` lists the planned changes of the same rates that come later and stand.
    """

    revision: int | None
    effective_from: date
    changes: Mapping[Key, str | None]
    added: frozenset[Key]
    overruled_by: list[Change]


def import_sheet(
    store: Database,
    sheet: RateSheet,
    *,
    now: datetime,
    made_by: str,
    note: str = "",
    effective_from: date | None = None,
) -> Imported:
    """Put a sound sheet in force from a day on (today, where the shop is, unless said).

    Raises ``Refused`` if a past day has no note, or if a later planned change would not fit.
    """
    today = day_at(now, sheet)
    day = today if effective_from is None else effective_from
    if day < today and not note:
        raise Refused("invalid-rates", (Fault("", PAST_NEEDS_NOTE.format(today)),))
    with writing(store):
        revision = newest_revision(store)
        before = latest_changes(store, revision, day)
        present = {key for key, change in before.items() if change.value is not None}
        old = sheet_from(before.values()) if present else None
        changes = differences(old, sheet)
        if not changes:
            return Imported(None, day, {}, frozenset(), [])
        revision = add_revision(
            store, changes, effective_from=day, now=now, made_by=made_by, note=note
        )
        planned = planned_changes(store, revision, day)
        _check_later_days(store, revision, planned)
        return Imported(
            revision=revision,
            effective_from=day,
            changes=changes,
            added=frozenset(changes.keys() - present),
            overruled_by=[
                change
                for change in planned
                if change.key in changes and change.value != changes[change.key]
            ],
        )


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

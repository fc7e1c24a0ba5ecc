"""Tells what was saved, as the contract has it."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

import msgspec
from msgspec import UNSET

from gramhour.contract.answer import Caution
from gramhour.contract.changes import ChangedRate, PlannedChange, SavedChanges, StoredRevision
from gramhour_service.resolve.unlikely import as_cautions
from gramhour_service.resolve.usual import unusual_in_stored
from gramhour_service.sheets.saving import Saved
from gramhour_service.store.rates import Change, Revision

LEFT_OUT = "left out"


def saved_changes(saved: Saved, *, trial: bool) -> SavedChanges:
    """Tell what a change of the rates did, or would do."""
    return SavedChanges(
        rates_revision=UNSET if saved.revision is None else saved.revision,
        trial=trial,
        effective_from=saved.effective_from,
        changes=[
            ChangedRate(
                kind=key[0],
                code=key[1],
                done=saved.done(key),
                before=value_of(saved.before[key]),
                after=value_of(after),
            )
            for key, after in saved.changes.items()
        ],
        overruled_by=[planned_change(change) for change in saved.overruled_by],
        cautions=cautions_of_saved(saved),
    )


def cautions_of_saved(saved: Saved) -> list[Caution]:
    """Tell what is hardly meant, and what is gone, of the rates that were saved, or would be."""
    said = [
        says
        for (kind, code), value in saved.changes.items()
        if value is not None
        for says in unusual_in_stored(kind, code, value)
    ]
    return [*as_cautions([*said, *saved.doubted]), *cautions_of_left_out(saved)]


def cautions_of_left_out(saved: Saved) -> Iterator[Caution]:
    """Tell what changed rates had before and have no longer: perhaps only a part was sent."""
    return (Caution(hazard=LEFT_OUT, says=each) for each in saved.left_out)


def planned_change(change: Change) -> PlannedChange:
    """Tell a change that comes into force later."""
    return PlannedChange(
        kind=change.kind,
        code=change.code,
        effective_from=date.fromisoformat(change.effective_from),
        rates_revision=change.revision,
        value=value_of(change.value),
    )


def stored_revision(revision: Revision) -> StoredRevision:
    """Tell who made a revision, when and why."""
    return StoredRevision(
        rates_revision=revision.number,
        known_since=datetime.fromisoformat(revision.known_since),
        effective_from=date.fromisoformat(revision.effective_from),
        made_by=revision.made_by,
        note=revision.note,
        changes=revision.changes,
    )


def value_of(value: str | None) -> Any:
    """Tell a stored value as it stands; an absent one is left out."""
    return UNSET if value is None else msgspec.Raw(value.encode())

"""What the revisions of the rates changed, member by member."""

from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple

from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.changes import ChangedMember, RateDifference
from gramhour.contract.problem import pointer
from gramhour_service.sheets.rows import plain_value
from gramhour_service.store.rates import (
    Change,
    Key,
    Revision,
    changes_between,
    changes_of,
    latest_changes,
    rate_on,
    revision_of,
)


class Past(NamedTuple):
    """A change of one rate: the revision that made it, and what it changed."""

    revision: Revision
    differences: tuple[RateDifference, ...]


def past_of(store: Database, key: Key, most: int) -> list[Past]:
    """List who changed one rate, when, why and how, the newest change first."""
    return [_past(store, key, change) for change in changes_of(store, key, most)]


def _past(store: Database, key: Key, change: Change) -> Past:
    day = change.effective_from
    before = rate_on(store, key, change.revision - 1, date.fromisoformat(day))
    found = _difference(day, key, _value(before), _value(change))
    return Past(revision_of(store, change.revision), tuple(found))


def differences_between(store: Database, since: int, revision: int) -> list[RateDifference]:
    """List how the rates known at a revision differ from those known at an earlier one.

    Each rate is compared on each day from which a revision in between changes it.
    """
    changed = {(c.effective_from, c.key) for c in changes_between(store, since, revision)}
    told: list[RateDifference] = []
    for day in sorted({day for day, _ in changed}):
        before = latest_changes(store, since, date.fromisoformat(day))
        after = latest_changes(store, revision, date.fromisoformat(day))
        for key in sorted(key for on, key in changed if on == day):
            told += _difference(day, key, _value(before.get(key)), _value(after.get(key)))
    return told


def _difference(day: str, key: Key, before: Any, after: Any) -> Iterator[RateDifference]:
    members = list(_members((), before, after))
    if members:
        done = "added" if before is UNSET else "removed" if after is UNSET else "changed"
        yield RateDifference(
            kind=key[0],
            code=key[1],
            effective_from=date.fromisoformat(day),
            done=done,
            members=members,
        )


def _members(place: tuple[str, ...], before: Any, after: Any) -> Iterator[ChangedMember]:
    """Compare two values member by member; lists as a whole, for their entries have no names."""
    if isinstance(before, dict) and isinstance(after, dict):
        for name in sorted({*before, *after}):
            yield from _members((*place, name), before.get(name, UNSET), after.get(name, UNSET))
    elif before != after:
        yield ChangedMember(pointer=pointer(*place), before=before, after=after)


def _value(change: Change | None) -> Any:
    return UNSET if change is None or change.value is None else plain_value(change)

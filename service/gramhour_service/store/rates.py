"""The rates: what is in force on a day as known at a revision, and new revisions of them.

A change has two dates: its revision (known since) and the day it is in force from. On day D as
known at revision R, of the changes with revision ≤ R and effective_from ≤ D the one with the
latest effective_from counts, among equal ones that of the highest revision. Days are ISO 8601
texts, which sort as the days do.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import NamedTuple

from sqlite_utils import Database

Key = tuple[str, str]
"""A kind of rates and a code in it."""


class Change(NamedTuple):
    """A rate from a day on: its value as JSON, or none where it is absent from then on."""

    kind: str
    code: str
    effective_from: str
    revision: int
    value: str | None

    @property
    def key(self) -> Key:
        """The rate that is changed."""
        return self.kind, self.code


class Revision(NamedTuple):
    """Who made a revision of the rates, when, and why."""

    number: int
    known_since: str
    effective_from: str
    made_by: str
    note: str
    changes: int


IN_FORCE = """
    SELECT kind, code, effective_from, revision, value FROM (
        SELECT *, row_number() OVER (
            PARTITION BY kind, code ORDER BY effective_from DESC, revision DESC
        ) AS place
        FROM rate_change WHERE revision <= ? AND effective_from <= ?
    ) WHERE place = 1 ORDER BY kind, code
"""
PLANNED = """
    SELECT kind, code, effective_from, max(revision), value FROM rate_change
    WHERE revision <= ? AND effective_from > ? GROUP BY kind, code, effective_from
    ORDER BY effective_from, kind, code
"""


def newest_revision(store: Database) -> int:
    """Say the number of the newest revision; 0 before the first."""
    number: int = store.conn.execute("SELECT coalesce(max(number), 0) FROM revision").fetchone()[0]
    return number


def latest_changes(store: Database, revision: int, on: date) -> dict[Key, Change]:
    """Find the change of each rate that counts on a day as known at a revision.

    One without a value says that the rate is absent.
    """
    rows = store.conn.execute(IN_FORCE, (revision, on.isoformat()))
    return {change.key: change for change in map(Change._make, rows)}


def rate_on(store: Database, key: Key, revision: int, on: date) -> Change | None:
    """Find the change of one rate that counts on a day as known at a revision."""
    row = store.conn.execute(
        "SELECT kind, code, effective_from, revision, value FROM rate_change "
        "WHERE kind = ? AND code = ? AND revision <= ? AND effective_from <= ? "
        "ORDER BY effective_from DESC, revision DESC LIMIT 1",
        (*key, revision, on.isoformat()),
    ).fetchone()
    return None if row is None else Change._make(row)


def changes_of(store: Database, key: Key, most: int) -> list[Change]:
    """List the changes of one rate, the newest first."""
    rows = store.conn.execute(
        "SELECT kind, code, effective_from, revision, value FROM rate_change "
        "WHERE kind = ? AND code = ? ORDER BY revision DESC LIMIT ?",
        (*key, most),
    )
    return [Change._make(row) for row in rows]


def planned_changes(store: Database, revision: int, after: date) -> list[Change]:
    """List the changes known at a revision that come into force after a day, soonest first."""
    return [Change._make(row) for row in store.conn.execute(PLANNED, (revision, after.isoformat()))]


def changes_between(store: Database, since: int, revision: int) -> list[Change]:
    """List the changes made after one revision and up to another, the earliest first."""
    rows = store.conn.execute(
        "SELECT kind, code, effective_from, revision, value FROM rate_change "
        "WHERE revision > ? AND revision <= ? ORDER BY revision, kind, code",
        (since, revision),
    )
    return [Change._make(row) for row in rows]


def revisions_before(store: Database, number: int, most: int) -> list[Revision]:
    """List revisions below a number, the newest first."""
    columns = ", ".join(Revision._fields)
    rows = store.conn.execute(
        f"SELECT {columns} FROM revision WHERE number < ? ORDER BY number DESC LIMIT ?",  # noqa: S608
        (number, most),
    )
    return [Revision._make(row) for row in rows]


def revision_of(store: Database, number: int) -> Revision:
    """Read who made a revision, when, and why."""
    columns = ", ".join(Revision._fields)
    row = store.conn.execute(
        f"SELECT {columns} FROM revision WHERE number = ?",  # noqa: S608 (our own names)
        (number,),
    ).fetchone()
    return Revision._make(row)


def add_revision(
    store: Database,
    changes: Mapping[Key, str | None],
    *,
    effective_from: date,
    now: datetime,
    made_by: str,
    note: str,
) -> int:
    """Add a revision with its changes, within ``writing``; return its number."""
    number = newest_revision(store) + 1
    day = effective_from.isoformat()
    known_since = now.isoformat(timespec="seconds")
    revision = Revision(number, known_since, day, made_by, note, len(changes))
    store.table("revision").insert(revision._asdict())
    store.table("rate_change").insert_all(
        Change(kind, code, day, number, value)._asdict() for (kind, code), value in changes.items()
    )
    return number

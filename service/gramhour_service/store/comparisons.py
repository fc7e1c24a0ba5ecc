"""Comparisons that are computed beside the quotes: what was asked, how far it is, what came."""

from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.schema import COMPARISONS, MIGRATIONS


class Row(NamedTuple):
    """A comparison as it is stored; ``asked`` is what was sent, ``answer`` what came, as JSON.

    The rates are those of a revision and a day, none where the request brought its own.
    ``evaluations`` is how many it takes, ``done`` how many of them are.
    """

    id: str
    asked: bytes
    channel: str
    asked_at: str
    asked_by: str
    rates_revision: int | None
    rates_on: str | None
    evaluations: int
    done: int = 0
    ended: str | None = None
    ended_at: str | None = None
    says: str | None = None
    answer: bytes | None = None


COLUMNS = ", ".join(Row._fields)


@MIGRATIONS(name=COMPARISONS)
def table_of_comparisons(store: Database) -> None:
    """Make the table."""
    store.execute(
        """
        CREATE TABLE comparison (
            id TEXT PRIMARY KEY,
            asked BLOB NOT NULL,
            channel TEXT NOT NULL,
            asked_at TEXT NOT NULL,
            asked_by TEXT NOT NULL,
            rates_revision INTEGER,
            rates_on TEXT,
            evaluations INTEGER NOT NULL,
            done INTEGER NOT NULL,
            ended TEXT CHECK (ended IN ('finished', 'failed')),
            ended_at TEXT,
            says TEXT,
            answer BLOB
        ) STRICT
        """
    )
    store.execute("CREATE INDEX comparison_by_time ON comparison (asked_at)")


def add_comparison(store: Database, row: Row) -> None:
    """Add a comparison, within ``writing``."""
    marks = ", ".join("?" * len(Row._fields))
    store.conn.execute(f"INSERT INTO comparison ({COLUMNS}) VALUES ({marks})", row)  # noqa: S608


def comparison_of(store: Database, name: str) -> Row | None:
    """Find a comparison."""
    row = store.conn.execute(
        f"SELECT {COLUMNS} FROM comparison WHERE id = ?",  # noqa: S608 (our own names)
        (name,),
    ).fetchone()
    return None if row is None else Row._make(row)


def unfinished(store: Database) -> list[str]:
    """Name the comparisons that have no end yet, whether they go on or broke off."""
    rows = store.conn.execute("SELECT id FROM comparison WHERE ended IS NULL")
    return [name for (name,) in rows]


def set_done(store: Database, name: str, done: int) -> None:
    """Say how far a comparison is, within ``writing``."""
    store.conn.execute("UPDATE comparison SET done = ? WHERE id = ?", (done, name))


def finish(store: Database, name: str, at: str, answer: bytes) -> None:
    """Keep what came of a comparison, within ``writing``."""
    store.conn.execute(
        "UPDATE comparison SET ended = 'finished', ended_at = ?, answer = ?, done = evaluations "
        "WHERE id = ?",
        (at, answer, name),
    )


def fail(store: Database, name: str, at: str, says: str) -> None:
    """Say why a comparison has no result, within ``writing``."""
    store.conn.execute(
        "UPDATE comparison SET ended = 'failed', ended_at = ?, says = ? WHERE id = ?",
        (at, says, name),
    )


def forget_before(store: Database, moment: str) -> list[str]:
    """Forget comparisons asked before a moment, within ``writing``; name them."""
    rows = store.conn.execute("SELECT id FROM comparison WHERE asked_at < ?", (moment,))
    forgotten = [name for (name,) in rows]
    store.conn.execute("DELETE FROM comparison WHERE asked_at < ?", (moment,))
    return forgotten

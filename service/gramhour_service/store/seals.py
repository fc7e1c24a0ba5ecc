"""Seals kept with the prices they promise, what was recalled, and the name that promises."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.price_in_force import ENDED_BY, in_force
from gramhour_service.store.rates import newest_revision
from gramhour_service.store.schema import MIGRATIONS, SEALS


class KeptSeal(NamedTuple):
    """The seal of a change of a price, and when it ends, in seconds since 1970."""

    change: int
    kid: str
    rates_revision: int
    expires: int
    seal: str


class Recall(NamedTuple):
    """A revision of the rates whose seals count no more, and who said so."""

    revision: int
    recalled_at: str
    recalled_by: str
    note: str


class Distrust(NamedTuple):
    """A key that somebody else has, or may have: whatever it signed is not genuine."""

    kid: str
    distrusted_at: str
    distrusted_by: str
    note: str


COLUMNS = ", ".join(KeptSeal._fields)
RECALLED = "(SELECT revision FROM recalled_revision)"
PLANNED_BY_RECALLED = f"""
    SELECT effective_from, count(*) FROM price_change p INDEXED BY price_change_planned
    WHERE planned AND effective_from > ?1 AND breaks <> '[]'
        AND rates_revision IN {RECALLED} AND change > {ENDED_BY.format("p", "?1")}
        AND change = (
            SELECT max(q.change) FROM price_change q
            WHERE q.sku = p.sku AND q.effective_from = p.effective_from
        )
        AND NOT EXISTS (
            SELECT 1 FROM listing WHERE listing.sku = p.sku
                AND looked_at_revision NOT IN {RECALLED}
                AND ({in_force("p.change", "listing.sku", "listing.looked_at_day")}) = p.change
        )
    GROUP BY effective_from ORDER BY effective_from
"""  # noqa: S608 (our own names)
HISTORY = ("recalled_revision", "distrusted_key")


@MIGRATIONS(name=SEALS)
def tables_of_seals(store: Database) -> None:
    """Make the tables."""
    store.execute(
        """
        CREATE TABLE price_seal (
            change INTEGER PRIMARY KEY REFERENCES price_change (change),
            kid TEXT NOT NULL REFERENCES signing_key (kid),
            rates_revision INTEGER NOT NULL REFERENCES revision (number),
            expires INTEGER NOT NULL,
            seal TEXT NOT NULL
        ) STRICT
        """
    )
    store.execute("CREATE INDEX price_seal_by_end ON price_seal (expires)")
    store.execute(
        """
        CREATE TABLE recalled_revision (
            revision INTEGER PRIMARY KEY REFERENCES revision (number),
            recalled_at TEXT NOT NULL,
            recalled_by TEXT NOT NULL,
            note TEXT NOT NULL
        ) STRICT
        """
    )
    store.execute(
        """
        CREATE TABLE distrusted_key (
            kid TEXT PRIMARY KEY REFERENCES signing_key (kid),
            distrusted_at TEXT NOT NULL,
            distrusted_by TEXT NOT NULL,
            note TEXT NOT NULL
        ) STRICT
        """
    )
    for table in HISTORY:
        for verb, done in (("UPDATE", "changed"), ("DELETE", "deleted")):
            store.execute(
                f"CREATE TRIGGER {table}_is_never_{done} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table}: history is only added to'); END"
            )
    store.execute(
        """
        CREATE TABLE seal_issuer (
            only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
            issuer TEXT NOT NULL
        ) STRICT
        """
    )


def seals_kept(store: Database, changes: Iterable[int]) -> dict[int, KeptSeal]:
    """Find the seals of changes of prices."""
    found = {}
    for change in changes:
        row = store.conn.execute(
            f"SELECT {COLUMNS} FROM price_seal WHERE change = ?",  # noqa: S608 (our own names)
            (change,),
        ).fetchone()
        if row is not None:
            found[change] = KeptSeal._make(row)
    return found


def keep_seals(store: Database, seals: Sequence[KeptSeal]) -> None:
    """Keep seals in place of those that the same changes had, within ``writing``."""
    marks = ", ".join("?" * len(KeptSeal._fields))
    store.conn.executemany(
        f"INSERT OR REPLACE INTO price_seal ({COLUMNS}) VALUES ({marks})",  # noqa: S608
        seals,
    )


def forget_ended_seals(store: Database, now: int) -> None:
    """Forget seals that have expired, within ``writing``."""
    store.conn.execute("DELETE FROM price_seal WHERE expires <= ?", (now,))


def recalls(store: Database) -> list[Recall]:
    """List the revisions whose seals were recalled."""
    rows = store.conn.execute(
        "SELECT revision, recalled_at, recalled_by, note FROM recalled_revision ORDER BY revision"
    )
    return [Recall._make(row) for row in rows]


def add_recall(store: Database, recall: Recall) -> None:
    """Recall the seals of a revision, within ``writing``; one recalled already stays so."""
    store.conn.execute("INSERT OR IGNORE INTO recalled_revision VALUES (?, ?, ?, ?)", recall)


def planned_by_recalled(store: Database, today: str) -> list[tuple[str, int]]:
    """Count the prices by recalled rates that are planned after a day, by the day each holds from.

    One that later rates left as it is, as the newest look at it, is right.
    """
    return store.conn.execute(PLANNED_BY_RECALLED, (today,)).fetchall()


def newest_is_recalled(store: Database) -> int | None:
    """Name the newest revision of the rates if it is recalled: prices by it would be wrong too."""
    newest = newest_revision(store)
    return newest if any(recall.revision == newest for recall in recalls(store)) else None


def distrusts(store: Database) -> list[Distrust]:
    """List the keys that are believed no more."""
    rows = store.conn.execute(
        "SELECT kid, distrusted_at, distrusted_by, note FROM distrusted_key ORDER BY distrusted_at"
    )
    return [Distrust._make(row) for row in rows]


def add_distrust(store: Database, distrust: Distrust) -> None:
    """Believe a key no more, within ``writing``."""
    store.conn.execute("INSERT OR IGNORE INTO distrusted_key VALUES (?, ?, ?, ?)", distrust)


def issuer_of(store: Database) -> str | None:
    """Read the name that promises; none before it was first put."""
    row = store.conn.execute("SELECT issuer FROM seal_issuer").fetchone()
    return None if row is None else row[0]


def put_issuer(store: Database, issuer: str) -> None:
    """Put the name that promises, within ``writing``."""
    store.conn.execute("INSERT OR REPLACE INTO seal_issuer VALUES (1, ?)", (issuer,))


def confirmed_by(store: Database, sku: str, change: int) -> tuple[int, str] | None:
    """Say by which rates, of a revision and a day, a listing's price was last looked at.

    None where another price counts on that day, which was looked at then, or where the listing
    was changed since.
    """
    looked_at = in_force("p.change", "listing.sku", "listing.looked_at_day")
    row = store.conn.execute(
        f"""
        SELECT looked_at_revision, looked_at_day FROM listing
        WHERE sku = ? AND looked_at_revision IS NOT NULL AND ({looked_at}) = ?
        """,  # noqa: S608 (our own names)
        (sku, change),
    ).fetchone()
    return None if row is None else (row[0], row[1])

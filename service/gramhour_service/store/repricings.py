"""Repricings and their lines."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from msgspec import json
from sqlite_utils import Database


class Row(NamedTuple):
    """A repricing as it is stored; ``asked`` is what was sent, as JSON.

    ``newest_change`` is the newest change of a price when it was asked for.
    """

    id: str
    asked: str
    asked_at: str
    asked_by: str
    rates_revision: int
    rates_on: str
    newest_change: int
    ended: str | None
    ended_at: str | None
    says: str | None
    lines: int
    done: int
    counts: str
    applied_at: str | None
    applied_by: str | None


FROM_NOTHING = 1e11
"""Stands for a price that rises from 0: by more per cent than anybody allows."""


class LineRow(NamedTuple):
    """A line as it is stored: what it is sorted and counted by, its prices, itself as JSON.

    ``moves`` is by how many per cent its price moves at most, ``FROM_NOTHING`` where it was 0;
    ``standing`` is its place in the report, the least first.
    """

    sku: str
    outcome: str
    under_floor: int
    under_floor_if_kept: int
    moves: float
    standing: float
    product_version: int
    listing_version: int
    channel: str
    prices: str
    line: bytes


COLUMNS = ", ".join(Row._fields)


def add_repricing(store: Database, row: Row) -> None:
    """Add a repricing, within ``writing``."""
    marks = ", ".join("?" * len(Row._fields))
    store.conn.execute(f"INSERT INTO repricing ({COLUMNS}) VALUES ({marks})", row)  # noqa: S608


def repricing_of(store: Database, name: str) -> Row | None:
    """Find a repricing."""
    row = store.conn.execute(
        f"SELECT {COLUMNS} FROM repricing WHERE id = ?",  # noqa: S608 (our own names)
        (name,),
    ).fetchone()
    return None if row is None else Row._make(row)


def repricings_before(store: Database, before: str, most: int) -> list[Row]:
    """List repricings asked before one (all, if it is none), the newest first."""
    rows = store.conn.execute(
        f"SELECT {COLUMNS} FROM repricing WHERE rowid < coalesce("  # noqa: S608
        "(SELECT rowid FROM repricing WHERE id = ?), 9223372036854775807) "
        "ORDER BY rowid DESC LIMIT ?",
        (before, most),
    )
    return [Row._make(row) for row in rows]


def unfinished(store: Database) -> list[str]:
    """Name the repricings that have no end yet, whether they go on or broke off."""
    return names_found(store, "SELECT id FROM repricing WHERE ended IS NULL")


PAUSED = "paused with the service, it goes on when that starts again"
"""Of a run that has no end: what is said of it instead."""


def pause(store: Database, name: str) -> None:
    """Say that a repricing is to be taken up again, within ``writing``."""
    store.conn.execute("UPDATE repricing SET says = ? WHERE id = ?", (PAUSED, name))


def paused(store: Database) -> list[str]:
    """Name the repricings that are to be taken up again."""
    return names_found(store, "SELECT id FROM repricing WHERE ended IS NULL AND says = ?", PAUSED)


def computed_skus(store: Database, name: str) -> set[str]:
    """Name the listings that have their line in a repricing."""
    return set(names_found(store, "SELECT sku FROM repricing_line WHERE repricing = ?", name))


def set_lines(store: Database, name: str, lines: int) -> None:
    """Say how many lines a repricing that runs will have, within ``writing``."""
    store.conn.execute("UPDATE repricing SET lines = ?, says = NULL WHERE id = ?", (lines, name))


def add_lines(
    store: Database, name: str, rows: Sequence[LineRow], counts: Mapping[str, int]
) -> None:
    """Add lines to a repricing, within ``writing``; ``counts`` are those of all its lines by now.

    By outcome, and of those under their floor.
    """
    store.conn.executemany(
        "INSERT INTO repricing_line VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [(name, *row) for row in rows],
    )
    store.conn.execute(
        "UPDATE repricing SET done = done + ?, counts = ? WHERE id = ?",
        (len(rows), json.encode(counts).decode(), name),
    )


def end(store: Database, name: str, ended: str, at: str, says: str | None = None) -> None:
    """Say how a repricing ended, within ``writing``."""
    store.conn.execute(
        "UPDATE repricing SET ended = ?, ended_at = ?, says = ? WHERE id = ?",
        (ended, at, says, name),
    )


class LineFilter(NamedTuple):
    """Which lines of a repricing: of an outcome, under their floor, of a channel."""

    outcome: str | None = None
    under_floor: bool = False
    channel: str | None = None

    def conditions(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Give each as SQL with its values."""
        if self.outcome is not None:
            yield "outcome = ?", (self.outcome,)
        if self.under_floor:
            yield "(under_floor OR under_floor_if_kept)", ()
        if self.channel is not None:
            yield "channel = ?", (self.channel,)


Place = tuple[float, str]
"""Where a line stands among others: its standing and its sku."""


def lines_after(
    store: Database, name: str, after: Place | None, most: int, only: LineFilter
) -> list[tuple[Place, bytes]]:
    """List lines as JSON by their standing, the worst first."""
    conditions = ["repricing = ?"] + [condition for condition, _ in only.conditions()]
    values: list[object] = [name, *(value for _, each in only.conditions() for value in each)]
    if after is not None:
        conditions.append("(standing, sku) > (?, ?)")
        values += after
    rows = store.conn.execute(
        "SELECT standing, sku, line FROM repricing_line WHERE "  # noqa: S608 (our own words)
        f"{' AND '.join(conditions)} ORDER BY standing, sku LIMIT ?",
        (*values, most),
    )
    return [((row[0], row[1]), row[2]) for row in rows]


def forget_before(store: Database, moment: str) -> list[str]:
    """Forget repricings asked before a moment, within ``writing``; prices they made stay."""
    forgotten = names_found(store, "SELECT id FROM repricing WHERE asked_at < ?", moment)
    store.conn.execute("DELETE FROM repricing WHERE asked_at < ?", (moment,))
    return forgotten


def names_found(store: Database, statement: str, *values: object) -> list[str]:
    """Name what a statement finds."""
    return [row[0] for row in store.conn.execute(statement, values)]

"""By how much the listed prices of a finished repricing move that go up, and that go down."""

from collections.abc import Sequence
from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.repricings import FROM_NOTHING
from gramhour_service.store.schema import MIGRATIONS, MOVE_RANGES


class MoveRow(NamedTuple):
    """What is kept of an outcome, in per cent as written; one that no listing has is not there."""

    outcome: str
    least: str
    median: str
    most: str


@MIGRATIONS(name=MOVE_RANGES)
def table_of_move_ranges(store: Database) -> None:
    """Make the table; repricings of an earlier version have nothing in it."""
    store.execute(
        """
        CREATE TABLE repricing_moves (
            repricing TEXT NOT NULL REFERENCES repricing (id) ON DELETE CASCADE,
            outcome TEXT NOT NULL,
            least TEXT NOT NULL,
            median TEXT NOT NULL,
            most TEXT NOT NULL,
            PRIMARY KEY (repricing, outcome)
        ) STRICT
        """
    )


def moves_of(store: Database, name: str, outcome: str) -> list[float]:
    """List by how many per cent the prices of an outcome move, the least first.

    A rise from 0 has no percentage, and is left out; so is what moves by 0.005 % or less, which
    is kept as 0, or not at all, as where only the tax, and so the net price, changes.
    """
    rows = store.conn.execute(
        "SELECT moves FROM repricing_line WHERE repricing = ? AND outcome = ? "
        "AND moves > 0 AND moves < ? ORDER BY moves",
        (name, outcome, FROM_NOTHING),
    )
    return [row[0] for row in rows]


def add_ranges(store: Database, name: str, rows: Sequence[MoveRow]) -> None:
    """Keep them, within ``writing``."""
    store.conn.executemany(
        "INSERT INTO repricing_moves VALUES (?, ?, ?, ?, ?)", [(name, *row) for row in rows]
    )


def ranges_of(store: Database, name: str) -> list[MoveRow]:
    """Find what is kept of a repricing."""
    rows = store.conn.execute(
        "SELECT outcome, least, median, most FROM repricing_moves WHERE repricing = ?", (name,)
    )
    return [MoveRow(*row) for row in rows]

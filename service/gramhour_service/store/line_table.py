"""The table of a repricing's lines, each in a row of its own.

A table without rows of their own keeps at most a quarter of a page with a key: a line had another
page to itself, which made a report three times as large and twice as slow to write.

By how much prices move has no index: each line would be written to one more place, and what moves
by more than some per cent stands before what does not.
"""

from typing import Final

from sqlite_utils import Database

from gramhour_service.store.repricings import LineRow
from gramhour_service.store.schema import LINES_IN_ROWS, MIGRATIONS

NAMES: Final = ("repricing", *LineRow._fields)
COLUMNS: Final = ", ".join(NAMES)
STATEMENTS: Final = (
    """
    CREATE TABLE line_in_row (
        repricing TEXT NOT NULL REFERENCES repricing (id) ON DELETE CASCADE,
        sku TEXT NOT NULL,
        outcome TEXT NOT NULL,
        under_floor INTEGER NOT NULL,
        under_floor_if_kept INTEGER NOT NULL,
        moves REAL NOT NULL,
        standing REAL NOT NULL,
        product_version INTEGER NOT NULL,
        listing_version INTEGER NOT NULL,
        channel TEXT NOT NULL,
        prices TEXT NOT NULL CHECK (json_valid(prices)),
        line BLOB NOT NULL,
        PRIMARY KEY (repricing, sku)
    ) STRICT
    """,
    f"INSERT INTO line_in_row ({COLUMNS}) SELECT {COLUMNS} FROM repricing_line",  # noqa: S608
    "DROP TABLE repricing_line",
    "ALTER TABLE line_in_row RENAME TO repricing_line",
    "CREATE INDEX repricing_line_worst_first ON repricing_line (repricing, standing, sku)",
    "CREATE INDEX repricing_line_by_outcome ON repricing_line (repricing, outcome, standing, sku)",
)


@MIGRATIONS(name=LINES_IN_ROWS)
def lines_in_rows(store: Database) -> None:
    """Move the lines over; those of an unfinished version stay, and are told by who looks at it."""
    if tuple(column.name for column in store.table("repricing_line").columns) != NAMES:
        return
    for statement in STATEMENTS:
        store.execute(statement)

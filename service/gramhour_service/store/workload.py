"""The workload: what machines are promised for, as it was put last. It has no history."""

from datetime import datetime
from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.schema import MIGRATIONS, WORKLOAD


class Put(NamedTuple):
    """The workload as it was put last, machines as JSON; ``version`` counts how often it was."""

    version: int
    machines: str
    changed_at: str
    changed_by: str


@MIGRATIONS(name=WORKLOAD)
def table_of_workload(store: Database) -> None:
    """Make the table, which has one row at most."""
    store.execute(
        """
        CREATE TABLE workload (
            only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
            version INTEGER NOT NULL CHECK (version > 0),
            machines TEXT NOT NULL CHECK (json_valid(machines)),
            changed_at TEXT NOT NULL,
            changed_by TEXT NOT NULL
        ) STRICT
        """
    )


def latest_workload(store: Database) -> Put | None:
    """Read the workload; none before it was first put."""
    row = store.conn.execute(
        "SELECT version, machines, changed_at, changed_by FROM workload"
    ).fetchone()
    return None if row is None else Put._make(row)


def put_workload(store: Database, machines: str, now: datetime, changed_by: str) -> Put:
    """Put a workload in place of what it was, within ``writing``."""
    before = latest_workload(store)
    put = Put(
        version=1 if before is None else before.version + 1,
        machines=machines,
        changed_at=now.isoformat(timespec="seconds"),
        changed_by=changed_by,
    )
    store.execute("INSERT OR REPLACE INTO workload VALUES (1, ?, ?, ?, ?)", put)
    return put

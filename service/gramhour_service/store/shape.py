"""Whether a store's tables are those that this version makes, which its migrations only claim."""

import sqlite3
from contextlib import closing

from sqlite_utils import Database

from gramhour_service.store.schema import MIGRATIONS

Shape = dict[tuple[str, str], str]
"""What makes each table, index and trigger, by kind and name."""


def other_than_ours(store: Database) -> tuple[str, ...]:
    """Tell which tables, indexes and triggers of a store of today are missing or are others."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        new = Database(connection, execute_plugins=False)
        MIGRATIONS.apply(new)
        ours = _shape(new)
    found = _shape(store)
    return tuple(
        f"the {kind} {name} is {'missing' if (kind, name) not in found else 'another one'}: "
        "the store was made by an unfinished version, or changed by another program"
        for kind, name in ours
        if found.get((kind, name)) != ours[kind, name]
    )


def _shape(store: Database) -> Shape:
    rows = store.execute(
        "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL "
        "AND name NOT LIKE '\\_sqlite\\_%' ESCAPE '\\' ORDER BY type, name"
    )
    return {(kind, name): " ".join(made_by.split()) for kind, name, made_by in rows}

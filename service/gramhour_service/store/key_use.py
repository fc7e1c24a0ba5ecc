"""When keys were used last, written now and then; how a key may end, which is never taken back."""

from collections.abc import Mapping
from datetime import datetime

from sqlite_utils import Database

from gramhour_service.store.schema import KEY_USE, MIGRATIONS


@MIGRATIONS(name=KEY_USE)
def table_of_key_use(store: Database) -> None:
    """Make the table of use; let a key that ends later end sooner, and never the other way."""
    store.execute(
        """
        CREATE TABLE key_use (
            name TEXT PRIMARY KEY REFERENCES access_key (name),
            used_at TEXT NOT NULL
        ) STRICT, WITHOUT ROWID
        """
    )
    store.execute("DROP TRIGGER access_key_is_only_revoked")
    store.execute(
        """
        CREATE TRIGGER access_key_is_only_revoked BEFORE UPDATE ON access_key
        WHEN NEW.name <> OLD.name OR NEW.hash <> OLD.hash
            OR NEW.scopes <> OLD.scopes OR NEW.channels IS NOT OLD.channels
            OR NEW.added_at <> OLD.added_at OR NEW.expires_at IS NOT OLD.expires_at
            OR NEW.revoked_at IS NULL
            OR (OLD.revoked_at IS NOT NULL AND NEW.revoked_at >= OLD.revoked_at)
        BEGIN SELECT RAISE(ABORT, 'access_key: it can be revoked, or sooner, and nothing else'); END
        """
    )


def note_use(store: Database, used: Mapping[str, datetime]) -> None:
    """Say when keys were used last, within ``writing``; never an earlier moment."""
    store.conn.executemany(
        "INSERT INTO key_use SELECT name, ?2 FROM access_key WHERE name = ?1 "
        "ON CONFLICT (name) DO UPDATE SET used_at = max(used_at, excluded.used_at)",
        [(name, moment.isoformat(timespec="seconds")) for name, moment in used.items()],
    )


def last_uses(store: Database) -> dict[str, datetime]:
    """Say when each key was used last, of those that were."""
    rows = store.conn.execute("SELECT name, used_at FROM key_use")
    return {name: datetime.fromisoformat(at) for name, at in rows}

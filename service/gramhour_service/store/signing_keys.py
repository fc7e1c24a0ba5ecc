"""Keys that sign, with their secrets: one a purpose signs, those before it are known still.

The secrets are in the store's file, which only its owner reads; whoever has a copy of it can sign.
"""

from typing import Literal, NamedTuple

from sqlite_utils import Database

from gramhour_service.store.schema import MIGRATIONS, SIGNING_KEYS

Purpose = Literal["prices", "measurements"]


class KeyRow(NamedTuple):
    """A key as it is stored.

    A ``retired_at`` key signs no more; what it signed counts. After ``hidden_at`` the public key
    is told to nobody, so that who verifies alone has to ask us.
    """

    kid: str
    purpose: str
    secret: str
    made_at: str
    retired_at: str | None = None
    hidden_at: str | None = None

    def __repr__(self) -> str:
        """Leave the secret out of whatever is printed or logged."""
        return f"KeyRow(kid={self.kid!r}, purpose={self.purpose!r})"


COLUMNS = ", ".join(KeyRow._fields)


@MIGRATIONS(name=SIGNING_KEYS)
def table_of_signing_keys(store: Database) -> None:
    """Make the table."""
    store.execute(
        """
        CREATE TABLE signing_key (
            kid TEXT PRIMARY KEY,
            purpose TEXT NOT NULL CHECK (purpose IN ('prices', 'measurements')),
            secret TEXT NOT NULL,
            made_at TEXT NOT NULL,
            retired_at TEXT,
            hidden_at TEXT CHECK (hidden_at IS NULL OR retired_at IS NOT NULL)
        ) STRICT
        """
    )
    store.execute("CREATE UNIQUE INDEX one_signs ON signing_key (purpose) WHERE retired_at IS NULL")
    store.execute(
        """
        CREATE TRIGGER signing_key_is_never_deleted BEFORE DELETE ON signing_key
        BEGIN SELECT RAISE(ABORT, 'signing_key: retire it instead'); END
        """
    )
    # REPLACE would delete a row without asking.
    store.execute(
        """
        CREATE TRIGGER signing_key_is_never_replaced BEFORE INSERT ON signing_key
        WHEN EXISTS (SELECT 1 FROM signing_key WHERE kid = NEW.kid
            OR purpose = NEW.purpose AND retired_at IS NULL AND NEW.retired_at IS NULL)
        BEGIN SELECT RAISE(ABORT, 'signing_key: retire it instead'); END
        """
    )
    store.execute(
        """
        CREATE TRIGGER signing_key_only_retires BEFORE UPDATE ON signing_key
        WHEN NEW.kid <> OLD.kid OR NEW.purpose <> OLD.purpose OR NEW.secret <> OLD.secret
            OR NEW.made_at <> OLD.made_at
            OR OLD.retired_at IS NOT NULL AND NEW.retired_at IS NOT OLD.retired_at
            OR OLD.hidden_at IS NOT NULL AND NEW.hidden_at IS NOT OLD.hidden_at
        BEGIN SELECT RAISE(ABORT, 'signing_key: it can be retired and hidden, once'); END
        """
    )


def signing_keys(store: Database, purpose: Purpose) -> list[KeyRow]:
    """List the keys of a purpose: the one that signs first, then those retired, newest first."""
    rows = store.conn.execute(
        f"SELECT {COLUMNS} FROM signing_key WHERE purpose = ? "  # noqa: S608 (our own names)
        "ORDER BY retired_at IS NOT NULL, retired_at DESC, made_at DESC, kid",
        (purpose,),
    )
    return [KeyRow._make(row) for row in rows]


def add_signing_key(store: Database, row: KeyRow) -> None:
    """Add a key, within ``writing``; none of its purpose may sign at the time."""
    marks = ", ".join("?" * len(KeyRow._fields))
    store.conn.execute(f"INSERT INTO signing_key ({COLUMNS}) VALUES ({marks})", row)  # noqa: S608


def retire_signing_key(store: Database, purpose: Purpose, at: str) -> None:
    """Let the key that signs sign no more, within ``writing``."""
    store.conn.execute(
        "UPDATE signing_key SET retired_at = ? WHERE purpose = ? AND retired_at IS NULL",
        (at, purpose),
    )


def hide_retired_keys(store: Database, purpose: Purpose, at: str) -> None:
    """Tell the public keys of those retired to nobody from now on, within ``writing``."""
    store.conn.execute(
        "UPDATE signing_key SET hidden_at = ? "
        "WHERE purpose = ? AND retired_at IS NOT NULL AND hidden_at IS NULL",
        (at, purpose),
    )

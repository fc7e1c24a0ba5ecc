"""The tables, and how an older store becomes one of today."""

from typing import Final

from sqlite_utils import Database, Migrations

from gramhour_service.store.listing_tables import LISTING_TABLES, REPRICINGS

APPLICATION_ID: Final = 0x47524D48
"""Stands in the file's header, so that another program's file is told apart."""

MIGRATIONS = Migrations("gramhour")

TABLES = (
    """
    CREATE TABLE revision (
        number INTEGER PRIMARY KEY CHECK (number > 0),
        known_since TEXT NOT NULL,
        effective_from TEXT NOT NULL
            CHECK (date(effective_from, '+0 days') IS effective_from),
        made_by TEXT NOT NULL,
        note TEXT NOT NULL,
        changes INTEGER NOT NULL CHECK (changes > 0)
    ) STRICT
    """,
    """
    CREATE TABLE rate_change (
        kind TEXT NOT NULL,
        code TEXT NOT NULL,
        effective_from TEXT NOT NULL,
        revision INTEGER NOT NULL REFERENCES revision (number),
        value TEXT CHECK (value IS NULL OR json_valid(value)),
        PRIMARY KEY (kind, code, effective_from, revision)
    ) STRICT, WITHOUT ROWID
    """,
    "CREATE INDEX rate_change_by_day ON rate_change (effective_from)",
    "CREATE INDEX rate_change_by_revision ON rate_change (revision)",
    """
    CREATE TABLE access_key (
        name TEXT PRIMARY KEY,
        hash BLOB NOT NULL UNIQUE,
        scopes TEXT NOT NULL CHECK (json_valid(scopes)),
        channels TEXT CHECK (channels IS NULL OR json_valid(channels)),
        added_at TEXT NOT NULL,
        expires_at TEXT,
        revoked_at TEXT
    ) STRICT
    """,
)

GUARDS = (
    *(
        f"""
        CREATE TRIGGER {table}_is_never_{done} BEFORE {verb} ON {table}
        BEGIN SELECT RAISE(ABORT, '{table}: history is only added to'); END
        """
        for table in ("revision", "rate_change")
        for verb, done in (("UPDATE", "changed"), ("DELETE", "deleted"))
    ),
    """
    CREATE TRIGGER revision_follows_the_newest BEFORE INSERT ON revision
    WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM revision)
    BEGIN SELECT RAISE(ABORT, 'revision: numbers follow each other'); END
    """,
    """
    CREATE TRIGGER rate_change_joins_the_newest BEFORE INSERT ON rate_change
    WHEN NEW.revision <> (SELECT coalesce(max(number), 0) FROM revision)
        OR (SELECT effective_from FROM revision WHERE number = NEW.revision)
            <> NEW.effective_from
        OR (SELECT changes FROM revision WHERE number = NEW.revision)
            <= (SELECT count(*) FROM rate_change WHERE revision = NEW.revision)
    BEGIN SELECT RAISE(ABORT, 'rate_change: its revision is closed, or of another day'); END
    """,
    # REPLACE would delete a row without asking the triggers above.
    """
    CREATE TRIGGER rate_change_is_never_replaced BEFORE INSERT ON rate_change
    WHEN EXISTS (
        SELECT 1 FROM rate_change
        WHERE kind = NEW.kind AND code = NEW.code
            AND effective_from = NEW.effective_from AND revision = NEW.revision
    )
    BEGIN SELECT RAISE(ABORT, 'rate_change: history is only added to'); END
    """,
    """
    CREATE TRIGGER access_key_is_never_replaced BEFORE INSERT ON access_key
    WHEN EXISTS (SELECT 1 FROM access_key WHERE name = NEW.name OR hash = NEW.hash)
    BEGIN SELECT RAISE(ABORT, 'access_key: revoke it instead'); END
    """,
    """
    CREATE TRIGGER access_key_is_never_deleted BEFORE DELETE ON access_key
    BEGIN SELECT RAISE(ABORT, 'access_key: revoke it instead'); END
    """,
    """
    CREATE TRIGGER access_key_is_only_revoked BEFORE UPDATE ON access_key
    WHEN OLD.revoked_at IS NOT NULL OR NEW.name <> OLD.name OR NEW.hash <> OLD.hash
        OR NEW.scopes <> OLD.scopes OR NEW.channels IS NOT OLD.channels
        OR NEW.added_at <> OLD.added_at OR NEW.expires_at IS NOT OLD.expires_at
    BEGIN SELECT RAISE(ABORT, 'access_key: it can be revoked, once, and nothing else'); END
    """,
)


FIRST = "1 rates by revision and day, keys"
SECOND = "2 answers to repeated calls"
THIRD = "3 products, listings and their prices"
FOURTH = "4 repricings"
COMPARISONS = "8 comparisons"
WORKLOAD = "9 workload"
SIGNING_KEYS = "10 keys that sign"
SEALS = "11 seals"
DESK = "12 sign-ins at the desk"
KEY_USE = "13 keys: when they were used, and how they end"
STANDING_PRICES = "14 prices that stand"
LINES_IN_ROWS = "15 lines of repricings in rows"
MOVE_RANGES = "16 by how much prices move in repricings"
KNOWN_MIGRATIONS = frozenset(
    {
        *(FIRST, SECOND, THIRD, FOURTH, COMPARISONS, WORKLOAD, SIGNING_KEYS, SEALS, DESK, KEY_USE),
        *(STANDING_PRICES, LINES_IN_ROWS, MOVE_RANGES),
    }
)
"""What this version can apply. A store that had others applied is a later version's."""


@MIGRATIONS(name=FIRST)
def rates_and_keys(store: Database) -> None:
    """Make the tables of the first version."""
    for statement in (*TABLES, *GUARDS):
        store.execute(statement)
    store.execute(f"PRAGMA application_id = {APPLICATION_ID}")


@MIGRATIONS(name=SECOND)
def answered_calls(store: Database) -> None:
    """Make the table of answers to calls that may be sent twice."""
    store.execute(
        """
        CREATE TABLE answered_call (
            caller TEXT NOT NULL,
            route TEXT NOT NULL,
            idempotency_key TEXT NOT NULL,
            body_hash BLOB NOT NULL,
            status INTEGER NOT NULL,
            answer BLOB NOT NULL,
            answered_at TEXT NOT NULL,
            PRIMARY KEY (caller, route, idempotency_key)
        ) STRICT
        """
    )
    store.execute("CREATE INDEX answered_call_by_time ON answered_call (answered_at)")


@MIGRATIONS(name=THIRD)
def products_and_listings(store: Database) -> None:
    """Make the tables of what the shop offers."""
    for statement in LISTING_TABLES:
        store.execute(statement)


@MIGRATIONS(name=FOURTH)
def repricings(store: Database) -> None:
    """Make the tables of repricings and their lines."""
    for statement in REPRICINGS:
        store.execute(statement)


@MIGRATIONS(name=DESK)
def table_of_sign_ins(store: Database) -> None:
    """Make the table."""
    store.execute(
        """
        CREATE TABLE desk_sign_in (
            hash BLOB PRIMARY KEY,
            key_name TEXT NOT NULL REFERENCES access_key (name),
            began_at TEXT NOT NULL,
            ends_at TEXT NOT NULL
        ) STRICT
        """
    )
    store.execute("CREATE INDEX desk_sign_in_by_end ON desk_sign_in (ends_at)")

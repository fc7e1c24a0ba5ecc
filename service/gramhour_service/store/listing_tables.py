"""The tables of products, listings and their prices; of repricings and their lines.

A product and a listing stand as they are now, and every version of them stands in
``entry_version``, put there by triggers. Prices are only added to.
"""

from typing import Final

NOW_AND_BEFORE: Final = tuple(
    statement
    for kind, name in (("product", "code"), ("listing", "sku"))
    for statement in (
        f"""
        CREATE TRIGGER {kind}_is_added AFTER INSERT ON {kind}
        BEGIN INSERT INTO entry_version VALUES
            ('{kind}', NEW.{name}, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END
        """,  # noqa: S608 (our own words)
        f"""
        CREATE TRIGGER {kind}_is_changed AFTER UPDATE OF version, value ON {kind}
        BEGIN INSERT INTO entry_version VALUES
            ('{kind}', NEW.{name}, NEW.version, NEW.value, NEW.changed_at, NEW.changed_by); END
        """,  # noqa: S608 (our own words)
        f"""
        CREATE TRIGGER {kind}_is_not_lost BEFORE DELETE ON {kind}
        WHEN NOT EXISTS (
            SELECT 1 FROM entry_version
            WHERE kind = '{kind}' AND name = OLD.{name} AND version > OLD.version
        )
        BEGIN SELECT RAISE(ABORT, '{kind}: who takes it away is told first'); END
        """,  # noqa: S608 (our own words)
        f"""
        CREATE TRIGGER {kind}_versions_follow BEFORE UPDATE OF version, value ON {kind}
        WHEN NEW.version <> OLD.version + 1 OR NEW.{name} <> OLD.{name}
        BEGIN SELECT RAISE(ABORT, '{kind}: versions follow each other'); END
        """,
    )
)

ENTRIES: Final = (
    """
    CREATE TABLE entry_version (
        kind TEXT NOT NULL CHECK (kind IN ('product', 'listing')),
        name TEXT NOT NULL,
        version INTEGER NOT NULL CHECK (version > 0),
        value TEXT CHECK (value IS NULL OR json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL,
        PRIMARY KEY (kind, name, version)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE product (
        code TEXT PRIMARY KEY,
        version INTEGER NOT NULL,
        value TEXT NOT NULL CHECK (json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE product_use (
        product TEXT NOT NULL REFERENCES product (code) ON DELETE CASCADE,
        variant TEXT NOT NULL,
        kind TEXT NOT NULL,
        code TEXT NOT NULL,
        PRIMARY KEY (product, variant, kind, code)
    ) STRICT, WITHOUT ROWID
    """,
    "CREATE INDEX product_use_by_rate ON product_use (kind, code)",
    """
    CREATE TABLE listing (
        sku TEXT PRIMARY KEY,
        version INTEGER NOT NULL,
        value TEXT NOT NULL CHECK (json_valid(value)),
        changed_at TEXT NOT NULL,
        changed_by TEXT NOT NULL,
        product TEXT NOT NULL GENERATED ALWAYS AS (value ->> '$.product') STORED
            REFERENCES product (code),
        variant TEXT NOT NULL GENERATED ALWAYS AS (coalesce(value ->> '$.variant', '')) STORED,
        channel TEXT NOT NULL GENERATED ALWAYS AS (value ->> '$.channel') STORED,
        looked_at_revision INTEGER,
        looked_at_day TEXT
    ) STRICT, WITHOUT ROWID
    """,
    "CREATE INDEX listing_by_product ON listing (product, variant)",
    "CREATE INDEX listing_by_channel ON listing (channel)",
    "CREATE INDEX listing_by_rates ON listing (looked_at_revision, looked_at_day)",
    """
    CREATE TABLE price_change (
        change INTEGER PRIMARY KEY CHECK (change > 0),
        sku TEXT NOT NULL,
        effective_from TEXT NOT NULL CHECK (date(effective_from, '+0 days') IS effective_from),
        planned INTEGER NOT NULL,
        channel TEXT NOT NULL,
        breaks TEXT NOT NULL CHECK (json_valid(breaks)),
        discount_pct TEXT,
        under_floor INTEGER NOT NULL,
        rates_revision INTEGER NOT NULL REFERENCES revision (number),
        rates_on TEXT NOT NULL,
        product_version INTEGER NOT NULL,
        listing_version INTEGER NOT NULL,
        rules TEXT NOT NULL,
        applied_at TEXT NOT NULL,
        applied_by TEXT NOT NULL,
        note TEXT NOT NULL
    ) STRICT
    """,
    "CREATE INDEX price_change_by_sku ON price_change (sku, effective_from, change)",
    "CREATE INDEX price_change_planned ON price_change (effective_from) WHERE planned",
    "CREATE INDEX price_change_by_channel ON price_change (channel, change)",
)

REPRICINGS: Final = (
    """
    CREATE TABLE repricing (
        id TEXT PRIMARY KEY,
        asked TEXT NOT NULL CHECK (json_valid(asked)),
        asked_at TEXT NOT NULL,
        asked_by TEXT NOT NULL,
        rates_revision INTEGER NOT NULL REFERENCES revision (number),
        rates_on TEXT NOT NULL,
        newest_change INTEGER NOT NULL,
        ended TEXT CHECK (ended IN ('finished', 'failed')),
        ended_at TEXT,
        says TEXT,
        lines INTEGER NOT NULL DEFAULT 0,
        done INTEGER NOT NULL DEFAULT 0,
        applied_at TEXT,
        applied_by TEXT
    ) STRICT
    """,
    """
    CREATE TABLE repricing_line (
        repricing TEXT NOT NULL REFERENCES repricing (id) ON DELETE CASCADE,
        sku TEXT NOT NULL,
        outcome TEXT NOT NULL,
        under_floor INTEGER NOT NULL,
        under_floor_if_kept INTEGER NOT NULL,
        moves REAL NOT NULL,
        standing REAL NOT NULL,
        from_change INTEGER,
        product_version INTEGER NOT NULL,
        listing_version INTEGER NOT NULL,
        channel TEXT NOT NULL,
        prices TEXT NOT NULL CHECK (json_valid(prices)),
        line BLOB NOT NULL,
        PRIMARY KEY (repricing, sku)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE INDEX repricing_line_worst_first
        ON repricing_line (repricing, standing, sku)
    """,
)

GUARDS: Final = (
    *(
        f"""
        CREATE TRIGGER {table}_is_never_{done} BEFORE {verb} ON {table}
        BEGIN SELECT RAISE(ABORT, '{table}: history is only added to'); END
        """
        for table in ("entry_version", "price_change")
        for verb, done in (("UPDATE", "changed"), ("DELETE", "deleted"))
    ),
    """
    CREATE TRIGGER entry_version_is_never_replaced BEFORE INSERT ON entry_version
    WHEN EXISTS (
        SELECT 1 FROM entry_version
        WHERE kind = NEW.kind AND name = NEW.name AND version >= NEW.version
    )
    BEGIN SELECT RAISE(ABORT, 'entry_version: history is only added to'); END
    """,
    """
    CREATE TRIGGER price_change_is_never_replaced BEFORE INSERT ON price_change
    WHEN EXISTS (SELECT 1 FROM price_change WHERE change >= NEW.change)
    BEGIN SELECT RAISE(ABORT, 'price_change: numbers only grow'); END
    """,
)

LISTING_TABLES: Final = (*ENTRIES, *GUARDS, *NOW_AND_BEFORE)

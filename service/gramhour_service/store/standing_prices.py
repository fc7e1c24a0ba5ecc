"""Which changes of prices can still count on a day to come: what is told of prices is found here.

All changes stand in ``price_change`` for ever. Here is kept, by a trigger, what no later change
has taken the place of for good: one of the same day at once, one of a later day two days after
that, since a clock may be set back by one.
"""

from typing import Final

from sqlite_utils import Database

from gramhour_service.store.schema import MIGRATIONS, STANDING_PRICES

DAYS_KEPT: Final = 2

SUPERSEDED: Final = """
    (EXISTS (
        SELECT 1 FROM price_change q WHERE q.sku = {0}.sku AND +q.channel = {0}.channel
            AND q.effective_from >= {0}.effective_from AND q.change > {0}.change
            AND (q.effective_from = {0}.effective_from OR q.effective_from <= {1})
    ) OR EXISTS (
        SELECT 1 FROM price_change w INDEXED BY price_change_withdrawn WHERE w.sku = {0}.sku
            AND +w.channel = {0}.channel AND w.breaks = '[]' AND w.effective_from <= {1}
            AND w.change > {0}.change
    ))
"""
"""A later change of the same day, or one that took over, or withdrew it, up to some day."""


@MIGRATIONS(name=STANDING_PRICES)
def table_of_standing_prices(store: Database) -> None:
    """Make the table, with what stands of the prices that are there; find withdrawals at once."""
    store.execute(
        """
        CREATE TABLE price_standing (
            channel TEXT NOT NULL,
            change INTEGER NOT NULL REFERENCES price_change (change),
            sku TEXT NOT NULL,
            effective_from TEXT NOT NULL,
            PRIMARY KEY (channel, change)
        ) STRICT, WITHOUT ROWID
        """
    )
    store.execute("CREATE INDEX price_standing_by_sku ON price_standing (sku)")
    store.execute(
        "CREATE INDEX price_change_withdrawn ON price_change (sku, effective_from, change) "
        "WHERE breaks = '[]'"
    )
    day = f"date('now', '-{DAYS_KEPT} days')"
    store.execute(
        "INSERT INTO price_standing SELECT channel, change, sku, effective_from "  # noqa: S608
        f"FROM price_change p WHERE NOT {SUPERSEDED.format('p', day)}"
    )
    day = f"date(min(NEW.effective_from, substr(NEW.applied_at, 1, 10)), '-{DAYS_KEPT} days')"
    store.execute(
        f"""
        CREATE TRIGGER price_change_stands AFTER INSERT ON price_change
        BEGIN
            INSERT INTO price_standing
                VALUES (NEW.channel, NEW.change, NEW.sku, NEW.effective_from);
            DELETE FROM price_standing WHERE sku = NEW.sku AND channel = NEW.channel
                AND {SUPERSEDED.format("price_standing", day)};
        END
        """  # noqa: S608
    )

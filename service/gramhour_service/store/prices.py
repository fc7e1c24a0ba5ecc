"""Listed prices: what each sku costs from a day on. Changes are numbered and only added.

Which of them counts on a day says ``price_in_force.py``.
"""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from msgspec import json
from sqlite_utils import Database

from gramhour_service.store.entries import Written
from gramhour_service.store.price_in_force import ENDED_BY, in_force


class PriceChange(NamedTuple):
    """The prices of a sku from a day on, as JSON, and what they came from.

    ``planned`` says that the day was yet to come when they were applied.
    """

    change: int
    sku: str
    effective_from: str
    planned: int
    channel: str
    breaks: str
    discount_pct: str | None
    under_floor: int
    rates_revision: int
    rates_on: str
    product_version: int
    listing_version: int
    rules: str
    applied_at: str
    applied_by: str
    note: str


COLUMNS = ", ".join(PriceChange._fields)
NOTHING = "[]"
IN_FORCE = in_force(COLUMNS, "?1", "?2")
ALL_IN_FORCE = f"""
    SELECT {", ".join(f"c.{column}" for column in PriceChange._fields)} FROM json_each(?1) asked
    CROSS JOIN price_change c ON c.change = ({in_force("change", "asked.value", "?2")})
    WHERE c.breaks <> '[]'
"""  # noqa: S608
PLANNED = f"""
    SELECT {COLUMNS}, max(change) FROM price_change p WHERE sku = ?1 AND effective_from > ?2
        AND change > {ENDED_BY.format("p", "?2")}
    GROUP BY effective_from ORDER BY effective_from
"""  # noqa: S608
TOLD = ", ".join(f"p.{column}" for column in PriceChange._fields)
FEED = f"""
    SELECT {TOLD} FROM price_standing s CROSS JOIN price_change p ON p.change = s.change
    WHERE s.channel = ?1 AND s.change > ?2 AND s.change <= ?5 AND s.change = (
        SELECT change FROM price_change q WHERE q.sku = p.sku AND q.channel = p.channel
            AND q.effective_from <= max(p.effective_from, ?3)
            AND q.change >= {ENDED_BY.format("q", "?3")}
        ORDER BY q.effective_from DESC, change DESC LIMIT 1
    ) AND (?4 OR p.effective_from <= ?3)
    ORDER BY s.change LIMIT ?6
"""  # noqa: S608
BETWEEN = f"""
    SELECT {COLUMNS} FROM price_change p
    WHERE change > ?2 AND change <= ?3 AND breaks <> '[]' AND change = (
        SELECT change FROM price_change q WHERE q.sku = p.sku
            AND q.effective_from <= max(p.effective_from, ?1)
            AND q.change >= {ENDED_BY.format("q", "?1")}
        ORDER BY q.effective_from DESC, change DESC LIMIT 1
    )
    ORDER BY change LIMIT ?4
"""  # noqa: S608


def newest_change(store: Database) -> int:
    """Say the number of the newest change of a price; 0 before the first."""
    row = store.conn.execute("SELECT coalesce(max(change), 0) FROM price_change").fetchone()
    number: int = row[0]
    return number


def newest_told(store: Database, channel: str, on: date, *, planned: bool) -> int:
    """Say the number of the newest change that is told of a channel; 0 before the first.

    What other channels ask, and (unless they are told) when what is planned, is nobody's business.
    """
    row = store.conn.execute(
        "SELECT change FROM price_change WHERE channel = ? AND (? OR effective_from <= ?) "
        "ORDER BY change DESC LIMIT 1",
        (channel, planned, on.isoformat()),
    ).fetchone()
    return 0 if row is None else int(row[0])


def price_in_force(store: Database, sku: str, on: date) -> PriceChange | None:
    """Find the price of a sku on a day; none where it has none, or it was withdrawn."""
    row = store.conn.execute(IN_FORCE, (sku, on.isoformat())).fetchone()
    found = None if row is None else PriceChange._make(row)
    return None if found is None or found.breaks == NOTHING else found


def prices_in_force(store: Database, skus: Iterable[str], on: date) -> dict[str, PriceChange]:
    """Find the prices of several skus on a day; those that have none are left out."""
    rows = store.conn.execute(ALL_IN_FORCE, (json.encode([*skus]).decode(), on.isoformat()))
    return {price.sku: price for price in map(PriceChange._make, rows)}


def planned_prices(store: Database, sku: str, after: date) -> list[PriceChange]:
    """List the prices of a sku that come into force after a day, soonest first."""
    rows = store.conn.execute(PLANNED, (sku, after.isoformat()))
    return [PriceChange._make(row[:-1]) for row in rows]


def price_history(store: Database, sku: str, below: int, most: int) -> list[PriceChange]:
    """List the changes of a sku's price with lower numbers, the newest first."""
    rows = store.conn.execute(
        f"SELECT {COLUMNS} FROM price_change WHERE sku = ? AND change < ? "  # noqa: S608
        "ORDER BY change DESC LIMIT ?",
        (sku, below, most),
    )
    return [PriceChange._make(row) for row in rows]


def prices_between(store: Database, on: date, after: int, to: int, most: int) -> list[PriceChange]:
    """List changes of prices by their numbers: those that hold on a day or are planned after it."""
    rows = store.conn.execute(BETWEEN, (on.isoformat(), after, to, most))
    return [PriceChange._make(row) for row in rows]


def prices_numbered(store: Database, changes: Iterable[int]) -> list[PriceChange]:
    """Find changes of prices by their numbers."""
    found = (
        store.conn.execute(
            f"SELECT {COLUMNS} FROM price_change WHERE change = ?",  # noqa: S608 (our own names)
            (change,),
        ).fetchone()
        for change in changes
    )
    return [PriceChange._make(row) for row in found if row is not None]


class Feed(NamedTuple):
    """Which prices of a channel: changed after one number and up to another, as of a day.

    ``planned`` ones are listed too if asked for.
    """

    channel: str
    since: int
    up_to: int
    on: date
    planned: bool


def prices_changed(store: Database, feed: Feed, most: int) -> list[PriceChange]:
    """List the prices of a channel that changed, withdrawals too, by their numbers."""
    rows = store.conn.execute(
        FEED, (feed.channel, feed.since, feed.on.isoformat(), feed.planned, feed.up_to, most)
    )
    return [PriceChange._make(row) for row in rows]


def withdraw(store: Database, sku: str, today: date, written: Written, why: str) -> None:
    """Withdraw the price of a sku from today on, with those planned, within ``writing``."""
    was = price_in_force(store, sku, today)
    was = was or next(iter(planned_prices(store, sku, today)), None)
    if was is None:
        return
    add_price(
        store,
        was._replace(
            effective_from=today.isoformat(),
            planned=0,
            breaks=NOTHING,
            discount_pct=None,
            under_floor=0,
            applied_at=written.stamp,
            applied_by=written.by,
            note=why,
        ),
    )


def add_price(store: Database, price: PriceChange) -> int:
    """Add a change of a price under the next number, within ``writing``; say the number."""
    number = newest_change(store) + 1
    marks = ", ".join("?" * len(PriceChange._fields))
    store.conn.execute(
        f"INSERT INTO price_change ({COLUMNS}) VALUES ({marks})",  # noqa: S608
        price._replace(change=number),
    )
    return number

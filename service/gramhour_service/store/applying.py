"""Prices of a repricing listed, in the database itself: as many as there are, in a few steps."""

from collections.abc import Iterable
from typing import NamedTuple

from msgspec import json
from sqlite_utils import Database

from gramhour_service.store.entries import Written
from gramhour_service.store.price_in_force import ENDED_BY
from gramhour_service.store.prices import newest_change
from gramhour_service.store.rates import Key

APPLICABLE = "('new', 'up', 'down')"


class Application(NamedTuple):
    """Which repricing is applied, but for whom, from when, and what its prices came from.

    ``over_all`` says whether all listings were asked for.
    """

    repricing: str
    except_: frozenset[str]
    effective_from: str
    planned: bool
    discount_pct: str | None
    rates_revision: int
    rates_on: str
    rules: str
    note: str
    over_all: bool


def skus_without_line(store: Database, repricing: str, skus: Iterable[str]) -> list[str]:
    """Name those of several that a repricing has no line of."""
    return [
        sku
        for sku in sorted(skus)
        if not store.conn.execute(
            "SELECT 1 FROM repricing_line WHERE repricing = ? AND sku = ?", (repricing, sku)
        ).fetchone()
    ]


def lines_changed_since(
    store: Database, repricing: str, except_: frozenset[str], most: int
) -> list[str]:
    """Say of listings that they, their product or their price changed since they were computed.

    Those that are left out may have.
    """
    rows = store.conn.execute(
        """
        SELECT r.sku, CASE
            WHEN l.sku IS NULL THEN 'was taken away'
            WHEN l.version <> r.listing_version THEN
                'was changed by ' || l.changed_by || ' at ' || l.changed_at
            WHEN p.version <> r.product_version THEN
                'has a product that was changed by ' || p.changed_by || ' at ' || p.changed_at
            ELSE 'has got other prices meanwhile'
        END
        FROM repricing_line r
        JOIN repricing ON repricing.id = r.repricing
        LEFT JOIN listing l ON l.sku = r.sku
        LEFT JOIN product p ON p.code = l.product
        WHERE r.repricing = ?1 AND r.sku NOT IN (SELECT value FROM json_each(?3)) AND (
            l.sku IS NULL OR l.version <> r.listing_version OR p.version <> r.product_version
            OR EXISTS (
                SELECT 1 FROM price_change c
                WHERE c.sku = r.sku AND c.change > repricing.newest_change
            )
        )
        ORDER BY r.sku LIMIT ?2
        """,
        (repricing, most, json.encode(sorted(except_)).decode()),
    )
    return [f"listing {sku} {says}" for sku, says in rows]


def lines_moving_by_more(
    store: Database, repricing: str, most_pct: float, seen: frozenset[str], most: int
) -> list[tuple[str, float]]:
    """List prices that would move by more than a percentage, but for those that were seen.

    A line's standing is at most its move, turned round.
    """
    rows = store.conn.execute(
        "SELECT sku, moves FROM repricing_line "  # noqa: S608 (our own words)
        "WHERE repricing = ?1 AND standing < -?2 AND moves > ?2 "
        f"AND outcome IN {APPLICABLE} ORDER BY standing, sku",
        (repricing, most_pct),
    )
    found = ((sku, moves) for sku, moves in rows if sku not in seen)
    return [each for each, _ in zip(found, range(most), strict=False)]


def uses_rate(store: Database, repricing: str, key: Key) -> bool:
    """Say whether a line's product in its variant, or its channel, uses a rate."""
    kind, code = key
    row = store.conn.execute(
        """
        SELECT 1 FROM repricing_line r JOIN listing l USING (sku) WHERE r.repricing = ?1 AND (
            ?2 = 'channels' AND l.channel = ?3 OR EXISTS (
                SELECT 1 FROM product_use u WHERE u.product = l.product
                    AND u.variant = l.variant AND u.kind = ?2 AND u.code = ?3
            )
        ) LIMIT 1
        """,
        (repricing, kind, code),
    ).fetchone()
    return row is not None


def planned_later(store: Database, repricing: str, day: str) -> list[tuple[str, str, int]]:
    """List planned prices of the listings that a repricing changed which come after a day."""
    rows = store.conn.execute(
        f"""
        SELECT p.sku, p.effective_from, max(p.change)
        FROM price_change p INDEXED BY price_change_planned
        JOIN repricing_line r ON r.repricing = ?1 AND r.sku = p.sku
        WHERE p.planned AND p.effective_from > ?2 AND r.outcome IN {APPLICABLE}
            AND p.change > {ENDED_BY.format("p", "?2")}
            AND p.sku NOT IN left_out
        GROUP BY p.sku, p.effective_from ORDER BY p.effective_from, p.sku
        """,  # noqa: S608 (our own words)
        (repricing, day),
    )
    return rows.fetchall()


def apply_lines(store: Database, wanted: Application, written: Written) -> tuple[int, int]:
    """List the prices of a repricing, within ``writing``; say how many, and the newest change.

    Lines whose price stays are looked at all the same, so that the next repricing need not.
    """
    store.conn.execute("CREATE TEMP TABLE IF NOT EXISTS left_out (sku TEXT PRIMARY KEY)")
    store.conn.execute("DELETE FROM left_out")
    store.conn.executemany(
        "INSERT INTO left_out VALUES (?)", [(sku,) for sku in sorted(wanted.except_)]
    )
    before = newest_change(store)
    applied = store.conn.execute(
        f"""
        INSERT INTO price_change
        SELECT ?1 + row_number() OVER (ORDER BY sku), sku, ?2, ?11, channel, prices, ?3,
            under_floor, ?4, ?5, product_version, listing_version, ?6, ?7, ?8, ?9
        FROM repricing_line
        WHERE repricing = ?10 AND outcome IN {APPLICABLE} AND sku NOT IN left_out
        ORDER BY sku
        """,  # noqa: S608 (our own words)
        (
            before,
            wanted.effective_from,
            wanted.discount_pct,
            wanted.rates_revision,
            wanted.rates_on,
            wanted.rules,
            written.stamp,
            written.by,
            wanted.note,
            wanted.repricing,
            wanted.planned,
        ),
    ).rowcount
    _looked_at(store, wanted)
    store.conn.execute(
        "UPDATE repricing SET applied_at = ?, applied_by = ? WHERE id = ?",
        (written.stamp, written.by, wanted.repricing),
    )
    return applied, before + applied


def _looked_at(store: Database, wanted: Application) -> None:
    """Note by which rates listings were looked at; after a sale they have to be again.

    A held price is told in each report until all are asked for: who applies that one keeps it.
    """
    is_sale = wanted.discount_pct is not None
    store.conn.execute(
        "UPDATE listing SET looked_at_revision = ?1, looked_at_day = ?2 WHERE sku IN "
        "(SELECT sku FROM repricing_line WHERE repricing = ?3 "
        "AND (outcome IN ('new', 'up', 'down', 'unchanged') OR outcome = 'held' AND ?4)) "
        "AND sku NOT IN left_out",
        (
            None if is_sale else wanted.rates_revision,
            None if is_sale else wanted.rates_on,
            wanted.repricing,
            wanted.over_all,
        ),
    )

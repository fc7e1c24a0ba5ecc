"""Which listings were looked at by which rates, and which of them a rate can touch."""

from collections.abc import Iterable

from sqlite_utils import Database

from gramhour_service.store.rates import Key
from gramhour_service.store.repricings import names_found


def skus_all(store: Database) -> list[str]:
    """Name all listings."""
    return names_found(store, "SELECT sku FROM listing ORDER BY sku")


def skus_named(store: Database, skus: Iterable[str]) -> list[str]:
    """Name those of several that are there."""
    found = (
        names_found(store, "SELECT sku FROM listing WHERE sku = ?", sku) for sku in sorted({*skus})
    )
    return [each[0] for each in found if each]


def skus_not_looked_at(store: Database, on: str) -> list[str]:
    """Name listings that no repricing was applied to, or whose planned prices take over.

    After the day that is looked at, or after the day whose rates they were looked at with.
    """
    return names_found(
        store,
        "SELECT sku FROM listing WHERE looked_at_revision IS NULL UNION "
        "SELECT sku FROM price_change p JOIN listing l USING (sku) "
        "WHERE planned AND effective_from > min(?, looked_at_day)",
        on,
    )


def looked_at_before(store: Database) -> list[tuple[int, str]]:
    """List by which rates, of a revision and a day, listings were looked at."""
    rows = store.conn.execute(
        "SELECT DISTINCT looked_at_revision, looked_at_day FROM listing "
        "WHERE looked_at_revision IS NOT NULL"
    )
    return [(row[0], row[1]) for row in rows]


def skus_looked_at(store: Database, revision: int, day: str) -> list[str]:
    """Name the listings that were looked at by the rates of a revision and a day."""
    return names_found(
        store,
        "SELECT sku FROM listing WHERE looked_at_revision = ? AND looked_at_day = ?",
        revision,
        day,
    )


def skus_using(store: Database, key: Key, revision: int, day: str) -> list[str]:
    """Name those of them whose product or channel uses a rate."""
    kind, code = key
    if kind == "channels":
        return names_found(
            store,
            "SELECT sku FROM listing INDEXED BY listing_by_channel "
            "WHERE channel = ? AND looked_at_revision = ? AND looked_at_day = ?",
            code,
            revision,
            day,
        )
    return names_found(
        store,
        "SELECT sku FROM product_use u CROSS JOIN listing l INDEXED BY listing_by_product "
        "ON l.product = u.product AND l.variant = u.variant "
        "WHERE u.kind = ? AND u.code = ? AND looked_at_revision = ? AND looked_at_day = ?",
        kind,
        code,
        revision,
        day,
    )

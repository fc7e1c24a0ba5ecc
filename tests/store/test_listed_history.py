"""What was listed and what it cost stays as it was: the tables themselves refuse anything else."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlite_utils import Database

from gramhour_service.listings.keeping import Ground
from gramhour_service.store.prices import (
    newest_change,
)
from tests.store.offered import (
    everything,
    made,
)


def versions(plain: sqlite3.Connection, kind: str, name: str) -> list[tuple[int, Any, str]]:
    rows = plain.execute(
        "SELECT version, value, changed_by FROM entry_version WHERE kind = ? AND name = ? "
        "ORDER BY version",
        (kind, name),
    )
    return [(version, None if value is None else msgspec.json.decode(value), by)
            for version, value, by in rows]  # fmt: skip


VERSION = "INTO entry_version VALUES"
PRICE = (
    "INTO price_change SELECT {}, sku, effective_from, planned, channel, '[]', "
    "discount_pct, under_floor, "
    "rates_revision, rates_on, product_version, listing_version, rules, applied_at, applied_by, "
    "note FROM price_change WHERE change = 1"
)
ONLY_ADDED, ONLY_GROW = "history is only added to", "numbers only grow"
REFUSED = {
    "a product deleted by nobody": (
        "DELETE FROM product WHERE code = 'pot'", "product: who takes it away is told first"),
    "a listing deleted by nobody": (
        "DELETE FROM listing", "listing: who takes it away is told first"),
    "a version reworded": ("UPDATE entry_version SET value = '{}'", ONLY_ADDED),
    "a version said to be by another": ("UPDATE entry_version SET changed_by = 'x'", ONLY_ADDED),
    "a version renumbered": ("UPDATE entry_version SET version = 9 WHERE name = 'lid'", ONLY_ADDED),
    "a version deleted": ("DELETE FROM entry_version WHERE name = 'lid'", ONLY_ADDED),
    "a version replaced": (
        f"INSERT OR REPLACE {VERSION} ('product', 'pot', 1, '{{}}', '', '')", ONLY_ADDED),
    "a version saved twice": (
        f"INSERT {VERSION} ('product', 'pot', 1, '{{}}', '', '')", ONLY_ADDED),
    "a price reworded": ("UPDATE price_change SET breaks = '[]' WHERE change = 1", ONLY_ADDED),
    "a price moved to another day": (
        "UPDATE price_change SET effective_from = '2020-01-01'", ONLY_ADDED),
    "a price renumbered": ("UPDATE price_change SET change = 9 WHERE change = 2", ONLY_ADDED),
    "a price deleted": ("DELETE FROM price_change WHERE change = 2", ONLY_ADDED),
    "a price replaced": (f"INSERT OR REPLACE {PRICE.format(2)}", ONLY_GROW),
    "an older number": (f"INSERT {PRICE.format(1)}", ONLY_GROW),
    "a product's version left out": (
        "UPDATE product SET version = 3 WHERE code = 'pot'", "versions follow each other"),
    "a product changed under its version": (
        "UPDATE product SET value = '{}' WHERE code = 'pot'", "versions follow each other"),
    "a product renamed": (
        "UPDATE product SET code = 'pan', version = 2 WHERE code = 'lid'",
        "versions follow each other"),
    "a listing's version left out": (
        "UPDATE listing SET version = 3 WHERE sku = 'P-1'", "versions follow each other"),
    "a listing changed under its version": (
        "UPDATE listing SET value = json_set(value, '$.channel', 'x')",
        "versions follow each other"),
    "a product replaced under its version": (
        "INSERT OR REPLACE INTO product VALUES ('lid', 1, '{}', '', '')", ONLY_ADDED),
    "a listing replaced under its version": (
        "INSERT OR REPLACE INTO listing (sku, version, value, changed_at, changed_by) "
        "VALUES ('P-1', 1, '{\"product\":\"lid\",\"channel\":\"x\"}', '', '')", ONLY_ADDED),
}  # fmt: skip


@pytest.fixture
def on(store: Database) -> Ground:
    return made(store)


@pytest.fixture
def plain(path: Path, on: Ground) -> Iterator[sqlite3.Connection]:
    """Connect as any other program would."""
    assert newest_change(on.store) == 2
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        yield connection


@pytest.mark.parametrize(("statement", "reason"), REFUSED.values(), ids=list(REFUSED))
def test_no_program_rewrites_what_was_listed_or_what_it_cost(
    plain: sqlite3.Connection, statement: str, reason: str
) -> None:
    before = everything(plain)
    with pytest.raises(sqlite3.IntegrityError, match=reason):
        plain.execute(statement)
    assert everything(plain) == before


OF_NOTHING = {
    "a listing of no product": (
        "INSERT INTO listing (sku, version, value, changed_at, changed_by) "
        "VALUES ('X', 1, '{\"product\":\"pan\",\"channel\":\"x\"}', '', '')"),
    "a use by no product": "INSERT INTO product_use VALUES ('pan', '', 'materials', 'x')",
    "a price of no revision": (
        f"INSERT {PRICE.format(3)}".replace("rates_revision,", "99,")),
}  # fmt: skip


@pytest.mark.parametrize("statement", OF_NOTHING.values(), ids=list(OF_NOTHING))
def test_what_is_referred_to_is_there_for_every_program_that_asks(
    plain: sqlite3.Connection, statement: str
) -> None:
    plain.execute("PRAGMA foreign_keys = ON")
    before = everything(plain)
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY constraint failed"):
        plain.execute(statement)
    assert everything(plain) == before


WRONG_TYPES = {
    "a product that is no JSON": "INSERT INTO product VALUES ('x', 1, 'x', '', '')",
    "a listing without a product": (
        "INSERT INTO listing (sku, version, value, changed_at, changed_by) "
        "VALUES ('X', 1, '{\"channel\":\"x\"}', '', '')"),
    "a listing on no channel": (
        "INSERT INTO listing (sku, version, value, changed_at, changed_by) "
        "VALUES ('X', 1, '{\"product\":\"pot\"}', '', '')"),
    "a version of another kind": f"INSERT {VERSION} ('rate', 'x', 1, NULL, '', '')",
    "a version below one": f"INSERT {VERSION} ('product', 'x', 0, NULL, '', '')",
    "a version that is a word": f"INSERT {VERSION} ('product', 'x', 'one', NULL, '', '')",
    "a price of a day that no month has": (
        f"INSERT {PRICE.format(3)}".replace("effective_from,", "'2026-02-30',")),
    "prices that are no JSON": f"INSERT {PRICE.format(3)}".replace("'[]'", "'9,90'"),
}  # fmt: skip


@pytest.mark.parametrize("statement", WRONG_TYPES.values(), ids=list(WRONG_TYPES))
def test_a_value_of_a_wrong_type_is_refused(plain: sqlite3.Connection, statement: str) -> None:
    before = everything(plain)
    with pytest.raises(sqlite3.IntegrityError, match=r"cannot store|NOT NULL|CHECK|malformed"):
        plain.execute(statement)
    assert everything(plain) == before

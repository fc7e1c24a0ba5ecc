"""A store of an earlier version becomes one of today when it is opened; its rates stay."""

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec import json
from sqlite_utils import Database

from gramhour_service.listings.keeping import put_listing, put_product
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.rows import rates_of
from gramhour_service.store.keys import add_key, find_key
from gramhour_service.store.opening import open_store, open_to_read, writing
from gramhour_service.store.prices import add_price, newest_change
from gramhour_service.store.rates import add_revision, newest_revision
from gramhour_service.store.schema import FOURTH, MIGRATIONS, SECOND, THIRD
from gramhour_service.store.trouble import StoreTrouble
from tests import demo
from tests.store.offered import TOMORROW, ground, listing, price, product
from tests.store.shops import NOON, TODAY

SECRET = "gramhour-test-secret-of-no-shop"
UP_TO = {"first": SECOND, "second": THIRD, "third": FOURTH}
"""Of each earlier version, the migration that it did not have yet."""
KEPT = {
    table: f"SELECT * FROM {table} ORDER BY 1, 2, 3, 4"
    for table in ("revision", "rate_change", "access_key")
}
"""The tables that the first version had."""


def make_store(path: Path, stop_before: str) -> None:
    """Make a store as an earlier version did: with its tables, two revisions of rates, a key."""
    path.touch(0o600)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        store = Database(connection, execute_plugins=False)
        store.execute("PRAGMA journal_mode = WAL")
        MIGRATIONS.apply(store, stop_before=stop_before)
        rates = {key: json.encode(value).decode() for key, value in rates_of(demo.sheet()).items()}
        dearer = {("shop", "labour_rate_per_hour"): '"36"'}
        for changes, day in ((rates, TODAY), (dearer, TOMORROW)):
            add_revision(store, changes, effective_from=day, now=NOON, made_by="ada", note="first")
        add_key(store, "shop", SECRET, ["price"], now=NOON)


def read(path: Path, statements: dict[str, str]) -> dict[str, list[Any]]:
    """Read tables as any other program does."""
    with closing(sqlite3.connect(path)) as plain:
        return {name: plain.execute(each).fetchall() for name, each in statements.items()}


def tables_of(path: Path) -> list[tuple[str, str, str]]:
    """List tables, indexes and triggers with what made them."""
    shape = "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY 1, 2"
    return read(path, {"all": shape})["all"]


@pytest.fixture(params=list(UP_TO))
def older(path: Path, request: pytest.FixtureRequest) -> Path:
    make_store(path, UP_TO[request.param])
    return path


@pytest.fixture
def brought_up(older: Path) -> Iterator[Database]:
    """Open an older store, and put something into its new tables."""
    with closing(open_store(older)) as store:
        upon = ground(store)
        with writing(store):
            put_product(upon, "pot", product("asa-green"))
            put_listing(upon, "P-1", listing())
            add_price(store, price("P-1", TODAY))
        yield store


def test_an_older_store_gets_the_tables_of_a_new_one(older: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.sqlite"
    open_store(new, create=True).close()
    assert tables_of(older) != tables_of(new)
    open_store(older).close()
    assert tables_of(older) == tables_of(new)
    open_store(older).close()
    assert tables_of(older) == tables_of(new)


def test_the_rates_and_keys_of_an_older_store_stay_as_they_were(older: Path) -> None:
    before = read(older, KEPT)
    assert {table: len(rows) for table, rows in before.items()} == {
        "revision": 2,
        "rate_change": len(rates_of(demo.sheet())) + 1,
        "access_key": 1,
    }
    with closing(open_store(older)) as store:
        assert read(older, KEPT) == before
        assert newest_revision(store) == 2
        assert Sheets(store).pinned(NOON).in_force.sheet == demo.sheet()
        later = Sheets(store).pinned(NOON + timedelta(days=1)).in_force.sheet
        assert f"{later.labour_rate_per_hour}" == "36"
        assert find_key(store, SECRET) is not None
        assert store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert store.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_store_is_brought_up_to_date_by_who_opens_it_to_read_too(older: Path) -> None:
    before = read(older, KEPT)
    with closing(open_to_read(older)) as reader:
        assert reader.execute("SELECT count(*) FROM price_change").fetchone() == (0,)
    assert read(older, KEPT) == before


def test_two_open_an_older_store_at_once_and_both_find_it_of_today(older: Path) -> None:
    with ThreadPoolExecutor(4) as openers:
        opened = [openers.submit(open_store, older) for _ in range(4)]
    for each in opened:
        with closing(each.result()) as store:
            assert newest_revision(store) == 2
            assert store.execute("SELECT count(*) FROM repricing").fetchone() == (0,)


def test_an_older_store_that_is_busy_is_told_and_stays_what_it_was(older: Path) -> None:
    before = tables_of(older), read(older, KEPT)
    with closing(sqlite3.connect(older, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreTrouble) as told:
            open_store(older, wait=0.05)
        assert told.value.kind == "store-busy"
        other.execute("ROLLBACK")
    assert (tables_of(older), read(older, KEPT)) == before
    open_store(older).close()
    assert tables_of(older) != before[0]


REWRITTEN = {
    "a version changed": "UPDATE entry_version SET value = '{}'",
    "a version deleted": "DELETE FROM entry_version WHERE name = 'pot'",
    "a version saved over": "INSERT OR REPLACE INTO entry_version "
    "VALUES ('product', 'pot', 1, '{}', '', '')",
    "a version before the newest": "INSERT INTO entry_version "
    "VALUES ('product', 'pot', 0, '{}', '', '')",
    "a price changed": "UPDATE price_change SET breaks = '[]'",
    "a price of another day": "UPDATE price_change SET effective_from = '2020-01-01'",
    "a price deleted": "DELETE FROM price_change",
    "a price saved over": "INSERT OR REPLACE INTO price_change SELECT * FROM price_change",
    "a revision deleted": "DELETE FROM revision",
    "a rate changed": "UPDATE rate_change SET value = '\"9\"'",
}


@pytest.mark.parametrize("statement", REWRITTEN.values(), ids=list(REWRITTEN))
def test_history_in_a_store_brought_up_to_date_is_only_added_to(
    brought_up: Database, statement: str
) -> None:
    before = list(brought_up.conn.iterdump())
    with pytest.raises(sqlite3.IntegrityError, match=r"only added to|numbers only grow|CHECK"):
        brought_up.execute(statement)
    assert list(brought_up.conn.iterdump()) == before


def test_a_store_brought_up_to_date_keeps_all_versions_of_what_is_put_into_it(
    brought_up: Database,
) -> None:
    upon = ground(brought_up)
    with writing(brought_up):
        put_listing(upon, "P-1", listing(hold=True))
    rows = brought_up.execute(
        "SELECT version, value ->> '$.hold' FROM entry_version WHERE name = 'P-1' ORDER BY 1"
    ).fetchall()
    assert rows == [(1, None), (2, 1)]
    assert newest_change(brought_up) == 1

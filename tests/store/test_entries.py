"""Products and listings in the file: every version, and which rates they use, as one."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour_service.listings.keeping import Ground, put_listing, put_product, take_away
from gramhour_service.listings.rows import NotKept, SentRow, put_rows
from gramhour_service.store.entries import (
    Entry,
    entry_of,
    listings_of,
    users_of,
    variants_listed,
)
from gramhour_service.store.opening import open_store, writing
from gramhour_service.store.prices import (
    newest_change,
    price_in_force,
)
from tests.store.offered import (
    IN_SHOP,
    STAMP,
    everything,
    found,
    listing,
    made,
    product,
)
from tests.store.shops import TODAY


def versions(plain: sqlite3.Connection, kind: str, name: str) -> list[tuple[int, Any, str]]:
    rows = plain.execute(
        "SELECT version, value, changed_by FROM entry_version WHERE kind = ? AND name = ? "
        "ORDER BY version",
        (kind, name),
    )
    return [(version, None if value is None else msgspec.json.decode(value), by)
            for version, value, by in rows]  # fmt: skip


@pytest.fixture
def on(store: Database) -> Ground:
    return made(store)


@pytest.fixture
def plain(path: Path, on: Ground) -> Iterator[sqlite3.Connection]:
    """Connect as any other program would."""
    assert newest_change(on.store) == 2
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        yield connection


def test_every_version_stays_readable_also_of_what_was_taken_away_and_made_anew(
    on: Ground, plain: sqlite3.Connection
) -> None:
    with writing(on.store):
        put_listing(on, "P-1", listing(hold=True))
        take_away(on, "listing", found(on.store, "listing", "P-1"))
        assert put_listing(on, "P-1", listing()).version == 4
    assert versions(plain, "listing", "P-1") == [
        (1, IN_SHOP, "ada"), (2, {**IN_SHOP, "hold": True}, "ada"), (3, None, "ada"),
        (4, IN_SHOP, "ada"),
    ]  # fmt: skip
    assert plain.execute("SELECT version FROM listing WHERE sku = 'P-1'").fetchone() == (4,)


def uses(store: Database | sqlite3.Connection, code: str) -> list[tuple[str, str, str]]:
    rows = store.execute(
        "SELECT variant, kind, code FROM product_use WHERE product = ? ORDER BY 1, 2, 3", (code,)
    )
    return rows.fetchall()


def test_the_index_of_uses_follows_the_product_and_goes_with_it(
    on: Ground, plain: sqlite3.Connection
) -> None:
    assert uses(plain, "pot") == [
        ("", "machines", "large"), ("", "materials", "asa-green"),
        ("chalk", "machines", "large"), ("chalk", "materials", "pla-chalk"),
    ]  # fmt: skip
    with writing(on.store):
        put_product(on, "pot", product("asa-green", "petg-clear", chalk={"asa-green": "tpu-slate"}))
    assert uses(plain, "pot") == [
        ("", "machines", "large"), ("", "materials", "asa-green"), ("", "materials", "petg-clear"),
        ("chalk", "machines", "large"), ("chalk", "materials", "petg-clear"),
        ("chalk", "materials", "tpu-slate"),
    ]  # fmt: skip
    assert users_of(on.store, [("materials", "asa-green"), ("channels", "own-shop")], 5) == [
        (("materials", "asa-green"), "product pot"),
        (("channels", "own-shop"), "listing P-1"), (("channels", "own-shop"), "listing P-2"),
    ]  # fmt: skip
    with writing(on.store):
        for sku in listings_of(on.store, "pot", 5):
            take_away(on, "listing", found(on.store, "listing", sku))
        take_away(on, "product", found(on.store, "product", "pot"))
    assert uses(plain, "pot") == []


def test_a_product_and_its_uses_are_seen_together_or_not_at_all(
    on: Ground, plain: sqlite3.Connection
) -> None:
    before = everything(plain)
    with writing(on.store, keep=False):
        put_product(on, "pot", product("petg-clear", chalk={"petg-clear": "pla-chalk"}))
        assert ("", "materials", "petg-clear") in uses(on.store, "pot")
        assert everything(plain) == before  # another program, while it is being written
    assert everything(plain) == before


def test_a_row_that_is_refused_leaves_nothing_of_the_rows_before_it(
    on: Ground, plain: sqlite3.Connection
) -> None:
    before = everything(plain)
    rows = [
        SentRow({"code": "pan", "product": {"work": {}}}),
        SentRow({"code": "pot", "product": {}}),
    ]
    with pytest.raises(NotKept) as refused, writing(on.store):
        put_rows(on, "product", rows, all_or_none=True)
    assert [each.pointer for each in refused.value.faults] == ["/items/1/variants"]
    assert everything(plain) == before
    with writing(on.store):
        told = put_rows(on, "product", rows, all_or_none=False)
    assert (told.added, told.refused) == (1, 1)
    assert versions(plain, "product", "pan") == [(1, {"product": {"work": {}}}, "ada")]
    assert [version for version, *_ in versions(plain, "product", "pot")] == [1]


def test_a_listed_product_is_kept_by_its_listings_and_its_variants_too(on: Ground) -> None:
    assert variants_listed(on.store, "pot") == {"chalk": "P-2"}
    with pytest.raises(Refused, match="it is listed as P-1, P-2; take those away first"):
        take_away(on, "product", found(on.store, "product", "pot"))
    with pytest.raises(Refused, match="variant 'chalk' is listed as P-2"), writing(on.store):
        put_product(on, "pot", product("asa-green"))
    assert found(on.store, "product", "pot").version == 1


def looked_at(store: Database) -> list[tuple[str, int | None]]:
    rows = store.execute("SELECT sku, looked_at_revision FROM listing ORDER BY sku")
    return rows.fetchall()


def test_what_is_changed_has_to_be_looked_at_by_the_next_repricing(on: Ground) -> None:
    looked = "UPDATE listing SET looked_at_revision = 1, looked_at_day = '2026-11-25'"
    on.store.execute(looked)
    with writing(on.store):
        put_listing(on, "P-1", listing(hold=True))
        put_listing(on, "P-2", listing(variant="chalk"))
    assert looked_at(on.store) == [("P-1", None), ("P-2", 1)]
    on.store.execute(looked)
    with writing(on.store):
        put_product(on, "lid", product("asa-green"))
    assert looked_at(on.store) == [("P-1", 1), ("P-2", 1)]
    with writing(on.store):
        put_product(on, "pot", product("petg-clear", chalk={"petg-clear": "pla-chalk"}))
    assert looked_at(on.store) == [("P-1", None), ("P-2", None)]


def test_a_store_opened_again_holds_what_was_put(path: Path, on: Ground) -> None:
    with closing(open_store(path)) as again:
        assert entry_of(again, "listing", "P-1") == Entry(
            "P-1", 1, '{"product":"pot","channel":"own-shop"}', STAMP, "ada"
        )
        assert price_in_force(again, "P-1", TODAY) == price_in_force(on.store, "P-1", TODAY)
        assert again.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert again.execute("PRAGMA foreign_key_check").fetchall() == []

"""What a sku costs on a day: prices come from a day on, are withdrawn, and are never forgotten."""

import sqlite3
from datetime import timedelta
from typing import Any

import msgspec
import pytest
from sqlite_utils import Database

from gramhour_service.listings.keeping import Ground, put_listing, take_away
from gramhour_service.store.opening import writing
from gramhour_service.store.prices import (
    add_price,
    newest_change,
    planned_prices,
    price_history,
    price_in_force,
)
from tests.store.offered import (
    BREAKS,
    TOMORROW,
    found,
    listing,
    made,
    price,
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


def test_of_the_prices_of_a_day_the_latest_day_counts_and_of_one_day_the_last(on: Ground) -> None:
    store, days = on.store, [TODAY + timedelta(days=n) for n in range(-1, 4)]
    with writing(store):
        assert add_price(store, price("P-1", days[3], note="third")) == 3
        assert add_price(store, price("P-1", TOMORROW, note="again")) == 4
    in_force = [price_in_force(store, "P-1", day) for day in days]
    assert [each and each.change for each in in_force] == [None, 1, 4, 3, 3]
    assert [each.change for each in planned_prices(store, "P-1", TODAY)] == [4, 3]
    assert [each.change for each in price_history(store, "P-1", 5, 9)] == [4, 3, 2, 1]
    assert [each.change for each in price_history(store, "P-1", 4, 2)] == [3, 2]
    assert price_in_force(store, "P-2", TODAY) is None


@pytest.mark.parametrize(
    "other", [{"channel": "market"}, {"variant": "chalk"}, {"product": "lid"}], ids=str
)
def test_what_is_listed_as_something_else_has_no_price_today_or_planned(
    on: Ground, other: dict[str, str]
) -> None:
    with writing(on.store):
        put_listing(on, "P-1", listing(**other))
    for day in (TODAY, TOMORROW):
        assert price_in_force(on.store, "P-1", day) is None
    withdrawn = price_history(on.store, "P-1", 9, 2)
    assert [(each.change, each.effective_from, each.channel, each.breaks, each.note)
            for each in withdrawn[:1]] == [
        (3, "2026-11-25", "own-shop", "[]", "listed as something else"),
    ]  # fmt: skip


def test_a_listing_whose_policy_alone_changes_keeps_its_price(on: Ground) -> None:
    with writing(on.store):
        put_listing(on, "P-1", listing(hold=True, name="Pot", aim={"margin_pct": "50"}))
    kept = price_in_force(on.store, "P-1", TODAY)
    assert kept == price("P-1", TODAY, change=1)
    assert newest_change(on.store) == 2


def test_a_price_is_withdrawn_with_its_listing_and_what_it_was_stays(on: Ground) -> None:
    with writing(on.store):
        take_away(on, "listing", found(on.store, "listing", "P-1"))
    assert price_in_force(on.store, "P-1", TOMORROW) is None
    told = [(each.change, each.effective_from, each.breaks, each.applied_by, each.note)
            for each in price_history(on.store, "P-1", 9, 9)]  # fmt: skip
    assert told == [
        (3, "2026-11-25", "[]", "ada", "no longer listed"),
        (2, "2026-11-26", BREAKS, "ada", ""),
        (1, "2026-11-25", BREAKS, "ada", ""),
    ]


def test_a_listing_without_a_price_is_taken_away_without_a_change(on: Ground) -> None:
    with writing(on.store):
        take_away(on, "listing", found(on.store, "listing", "P-2"))
    assert newest_change(on.store) == 2

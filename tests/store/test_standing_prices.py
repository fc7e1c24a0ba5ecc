"""What changed on a channel costs what is told of it, however often prices changed before."""

from datetime import date, timedelta
from random import Random

from sqlite_utils import Database

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import writing
from gramhour_service.store.prices import FEED, Feed, add_price, prices_changed
from tests import demo
from tests.store.offered import price
from tests.store.shops import NOON, TODAY

CHANNELS = ("own-shop", "market")
OF_ALL = FEED.replace("price_standing s", "price_change s")
"""The same asked of all changes there ever were."""


def steps(store: Database, feed: Feed) -> int:
    """Count the steps that the database takes to tell what changed, by the hundred."""
    taken = 0

    def goes_on() -> int:
        nonlocal taken
        taken += 1
        return 0

    store.conn.set_progress_handler(goes_on, 100)
    prices_changed(store, feed, 100)
    store.conn.set_progress_handler(None, 100)
    return taken


def list_days(store: Database, first: int, last: int) -> None:
    """List prices of twenty skus anew on each of some days."""
    with writing(store):
        for n in range(first, last):
            day = TODAY + timedelta(days=n)
            for k in range(20):
                applied = f"{day.isoformat()}T12:00:00+00:00"
                add_price(store, price(f"P-{k}", day, applied_at=applied))


def test_a_long_history_costs_no_more_than_a_short_one(store: Database) -> None:
    import_sheet(store, demo.sheet(), now=NOON, made_by="ada")
    list_days(store, 0, 5)
    short = steps(store, Feed("own-shop", 0, 100, TODAY + timedelta(days=5), planned=False))
    list_days(store, 5, 50)
    feed = Feed("own-shop", 0, 1000, TODAY + timedelta(days=50), planned=False)
    assert [each.change for each in prices_changed(store, feed, 100)] == [*range(981, 1001)]
    assert steps(store, feed) <= 2 * short


def test_what_changed_is_found_by_number_among_what_stands(store: Database) -> None:
    asked = ("own-shop", 5, TODAY.isoformat(), True, 9, 10)
    plan = [row[3] for row in store.execute(f"EXPLAIN QUERY PLAN {FEED}", asked)]
    assert plan[:2] == [
        "SEARCH s USING PRIMARY KEY (channel=? AND change>? AND change<?)",
        "SEARCH p USING INTEGER PRIMARY KEY (rowid=?)",
    ]
    assert not [step for step in plan if "SCAN" in step or "TEMP" in step]


def changed_on(store: Database, statement: str, channel: str, day: date) -> list[int]:
    rows = store.conn.execute(statement, (channel, 0, day.isoformat(), True, 10_000, 10_000))
    return [row[0] for row in rows]


def test_what_stands_tells_what_all_changes_would_even_if_the_clock_is_set_back(
    store: Database,
) -> None:
    """Drawn prices, planned ones and withdrawals, told after each day on it and those around it."""
    import_sheet(store, demo.sheet(), now=NOON, made_by="ada")
    rng, told = Random(11), 0
    for n in range(40):
        today = TODAY + timedelta(days=n)
        applied = f"{today.isoformat()}T12:00:00+00:00"
        with writing(store):
            for _ in range(rng.randint(1, 5)):
                ahead = rng.choice([0, 0, 0, 1, 3, 9])
                breaks = {"breaks": "[]"} if not ahead and rng.random() < 0.2 else {}
                change = price(
                    f"P-{rng.randint(1, 4)}", today + timedelta(days=ahead), planned=ahead > 0,
                    channel=rng.choice(CHANNELS), applied_at=applied, **breaks,
                )  # fmt: skip
                add_price(store, change)
        for day in (today - timedelta(days=1), today, today + timedelta(days=2)):
            for channel in CHANNELS:
                found = changed_on(store, FEED, channel, day)
                assert found == changed_on(store, OF_ALL, channel, day)
                told += len(found)
    assert told > 500

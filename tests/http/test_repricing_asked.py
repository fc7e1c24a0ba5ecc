"""By which rates: those of a day, as known at a revision, or as they might become; all of it told.

What happens to runs that are killed, or that go on at once, is tested with a service of workers.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, TODAY, change, refused, value_of
from tests.http.door import NOW, Door, add_keys, make_shop, opened, problem_type, shop_with
from tests.http.repriced import (
    REPRICINGS,
    ask,
    demo_sheet,
    describe,
    figures,
    finished,
    lines_of,
    list_prices,
    listed,
    only_line,
    quoted_as_listed,
    repriced,
    told,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}
POT: dict[str, Any] = {
    "name": "Herb pot",
    "pieces": [{"machine": "large", "nozzle": "n08", "print_min": "380",
                "feed": [{"material": "asa-green", "mass_g": "140"}]}],
    "work": {"unit_min": "4"},
}  # fmt: skip
IN_SHOP: dict[str, Any] = {"product": "pot", "channel": "own-shop", "breaks": [1, 10]}
OLD = demo_sheet()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop with a pot, priced."""

    def sell(door: Door) -> None:
        describe(door, "pot", POT)
        listed(door, {"sku": "P", **IN_SHOP})
        list_prices(door)

    path = shop_with(tmp_path / "gramhour.sqlite", "a pot, priced", sell)
    with opened(Settings(store=path)) as door:
        yield door


def priced_by(door: Door, labour: str) -> list[Any]:
    sheet = {**OLD, "labour_rate_per_hour": labour}
    products = {"pot": {"product": POT}}
    quotes = quoted_as_listed(door, IN_SHOP, products, IN_SHOP["breaks"], rates=sheet)
    return [figures(each) for each in quotes.values()]


def by_line(door: Door, **asked: Any) -> list[Any]:
    return [figures(each) for each in only_line(door, over="all", **asked)["breaks"]]


def test_the_rates_are_those_of_a_day_as_known_at_a_revision(shop: Door) -> None:
    assert change(shop, LABOUR, effective_from=MONDAY).status_code == 201
    power = {"kind": "shop", "code": "labour_rate_per_hour", "value": "60"}
    assert change(shop, power, based_on=2, effective_from=MONDAY).status_code == 201
    assert by_line(shop) == by_line(shop, rates_on="2026-12-06") == priced_by(shop, "32")
    assert by_line(shop, rates_on=MONDAY) == priced_by(shop, "60")
    assert by_line(shop, rates_on=MONDAY, rates_revision=2) == priced_by(shop, "44")
    assert by_line(shop, rates_on=MONDAY, rates_revision=1) == priced_by(shop, "32")
    assert by_line(shop, rates_revision=3) == priced_by(shop, "32")


def test_proposed_rates_stand_on_the_day_that_is_asked_for_and_are_not_saved(shop: Door) -> None:
    power = {"kind": "shop", "code": "price_per_kwh", "value": "0.90"}
    assert change(shop, power, effective_from=MONDAY).status_code == 201
    sheet = {**OLD, "labour_rate_per_hour": "44", "price_per_kwh": "0.90"}
    quotes = quoted_as_listed(
        shop, IN_SHOP, {"pot": {"product": POT}}, IN_SHOP["breaks"], rates=sheet
    )
    assert by_line(shop, proposed=[LABOUR]) == priced_by(shop, "44")
    on_monday = by_line(shop, proposed=[LABOUR], rates_on=MONDAY)
    assert on_monday == [figures(each) for each in quotes.values()]
    assert value_of(shop, "/v1/rates/shop/labour_rate_per_hour") == "32.00"


def test_a_repricing_says_of_what_it_is(shop: Door) -> None:
    assert change(shop, LABOUR, effective_from=MONDAY).status_code == 201
    answer = ask(shop, rates_on=MONDAY, discount_pct="12.50", note="winter sale")
    done = finished(shop, answer)
    (line,) = lines_of(shop, done["id"])
    moved = line["change_pct"].removeprefix("-")
    assert answer.headers["location"] == f"{REPRICINGS}/{done['id']}"
    assert answer.headers["cache-control"] == "no-store"
    assert done == {
        "id": done["id"], "state": "finished", "done": 1, "of": 1, "rates_revision": 2,
        "rates_on": MONDAY, "is_proposed": False, "discount_pct": "12.50", "note": "winter sale",
        "counts": done["counts"], "asked_at": "2026-12-01T09:00:00Z", "asked_by": "listings",
        "down_by": dict.fromkeys(("least_pct", "median_pct", "most_pct"), moved),
        "finished_at": done["finished_at"],
    }  # fmt: skip
    plain = repriced(shop, over="all")
    assert (plain["rates_revision"], plain["rates_on"]) == (2, TODAY)
    assert "discount_pct" not in plain
    assert repriced(shop, proposed=[LABOUR])["is_proposed"] is True


def test_repricings_are_listed_the_newest_first_in_pages(tmp_path: Path) -> None:
    path, clock = make_shop(tmp_path / "gramhour.sqlite"), [NOW]

    def now() -> datetime:
        return clock[0]

    with opened(Settings(store=path), now) as door:
        made = []
        for minutes in range(5):
            clock[0] = NOW + timedelta(minutes=minutes)
            made.append(repriced(door, note=f"number {minutes}")["id"])
        expected = [told(door, name) for name in reversed(made)]
        found: list[Any] = []
        query: dict[str, Any] = {"limit": 2}
        while True:
            page = door.ask("GET", REPRICINGS, "listings", params=query).json()
            found += page["items"]
            if "next_cursor" not in page:
                break
            query["cursor"] = page["next_cursor"]
        assert found == expected


def test_repricings_are_kept_for_thirty_days(tmp_path: Path) -> None:
    path, clock = make_shop(tmp_path / "gramhour.sqlite"), [NOW]
    with opened(Settings(store=path), lambda: clock[0]) as door:
        first = repriced(door)["id"]
        clock[0] = NOW + timedelta(days=30)
        second = repriced(door)["id"]
        assert told(door, first)["id"] == first
        clock[0] += timedelta(seconds=1)
        repriced(door)
        gone = door.ask("GET", f"{REPRICINGS}/{first}", "listings")
        assert (gone.status_code, problem_type(gone)) == (404, "unknown-entry")
        assert told(door, second)["id"] == second


@pytest.mark.parametrize(
    ("asked", "place"),
    [
        ({"rates_revision": 9}, "/rates_revision"),
        ({"rates_on": "2020-01-01"}, "/rates_on"),
        ({"over": "some"}, "/over"),
        ({"skus": ["a b"]}, "/skus/0"),
        ({"discount_pct": "101"}, "/discount_pct"),
        ({"discount_pct": "-1"}, "/discount_pct"),
        ({"proposed": []}, "/proposed"),
        ({"proposed": [{**LABOUR, "value": "x"}]}, "/proposed/0/value"),
        ({"proposed": [{**LABOUR, "code": "labour_rate"}]}, "/proposed/0"),
        ({"products": []}, "/products"),
    ],
)
def test_what_cannot_be_priced_by_is_refused(shop: Door, asked: dict[str, Any], place: str) -> None:
    answer = ask(shop, **asked)
    assert answer.status_code == 422, answer.text
    assert [where for where, _ in refused(answer)[1]] == [place]


def test_without_rates_there_is_nothing_to_price_by(tmp_path: Path) -> None:
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        answer = ask(door)
        assert (answer.status_code, problem_type(answer)) == (422, "no-rates")

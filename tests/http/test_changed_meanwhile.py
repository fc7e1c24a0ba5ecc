"""What changes while it is read, and listings whose breaks were taken out."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, change
from tests.http.door import NOW, Door, opened, problem_type
from tests.http.offering import LISTINGS, take_away
from tests.http.repriced import all_priced, applied, apply, only_line, repriced

CHANNEL = {"channel": "trade"}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop, every listing priced."""
    path = all_priced(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path), lambda: NOW) as door:
        yield door


def read(shop: Door, **query: Any) -> Any:
    answer = shop.ask("GET", "/v1/prices", "price", params={**CHANNEL, **query})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_price_withdrawn_between_two_pages_is_told_by_what_changed_since(shop: Door) -> None:
    page = read(shop, limit=1)
    newest, first = page["change"], page["items"][0]["sku"]
    gone = read(shop, limit=3)["items"][2]["sku"]
    for sku in (first, gone):
        answer = take_away(shop, f"{LISTINGS}/{sku}", {"If-Match": '"v1"'})
        assert answer.status_code == 204
    seen = [first]
    while "next_cursor" in page:
        page = read(shop, limit=1, cursor=page["next_cursor"])
        assert page["change"] == newest
        seen += [each["sku"] for each in page["items"]]
    since = read(shop, changed_since=page["change"])["items"]
    assert gone not in seen
    assert {each["sku"]: each["breaks"] for each in since} == {first: [], gone: []}


@pytest.mark.parametrize("cursor", ["5", "x.7", "5.", "-1.3"])
def test_a_cursor_that_is_none_of_ours_is_refused(shop: Door, cursor: str) -> None:
    answer = shop.ask("GET", "/v1/prices", "price", params={**CHANNEL, "cursor": cursor})
    assert (answer.status_code, problem_type(answer)) == (422, "invalid-request")
    assert [fault["parameter"] for fault in answer.json()["errors"]] == ["cursor"]


def test_a_channel_that_cannot_be_one_is_told_once(shop: Door) -> None:
    answer = shop.ask("GET", "/v1/prices", "price", params={"channel": "A b"})
    assert [fault["parameter"] for fault in answer.json()["errors"]] == ["channel"]


@pytest.mark.parametrize("key", ["price", "cost"])
def test_a_sku_that_cannot_be_one_is_refused_alike_for_every_key(shop: Door, key: str) -> None:
    answer = shop.ask("POST", "/v1/quotes", key, json={"sku": "a b", "quantity": 1})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/sku")


def test_kept_prices_are_judged_by_their_own_breaks_though_these_are_no_longer_asked_for(
    shop: Door,
) -> None:
    """HP-W is listed from 1, 5 and 10 units; with the breaks 5 and 10 taken out its new price of
    one unit would hold for more, but what is kept is kept with all three prices."""
    answer = shop.ask("GET", f"{LISTINGS}/HP-W", "cost")
    listing = {**answer.json()["listing"], "breaks": [1]}
    before = only_line(shop, skus=["HP-W"])
    put = shop.ask(
        "PUT", f"{LISTINGS}/HP-W", "listings", json=listing, headers={"If-Match": '"v1"'}
    )
    assert put.status_code == 200, put.text
    (kept,) = only_line(shop, skus=["HP-W"])["breaks"]
    least_of_each = [each["least_margin_if_kept_pct"] for each in before["breaks"]]
    assert kept["least_margin_if_kept_pct"] == min(least_of_each, key=float)
    assert kept["least_margin_pct"] != kept["least_margin_if_kept_pct"]


def test_a_withdrawal_ends_what_was_planned_before_it_and_nothing_after(shop: Door) -> None:
    """HP-W, with a price planned for Monday, is taken away and listed again: the price that it
    then gets today holds on Monday too."""
    listing = shop.ask("GET", f"{LISTINGS}/HP-W", "cost").json()["listing"]
    sale = repriced(shop, skus=["HP-W"], discount_pct=10)["id"]
    apply(shop, sale, effective_from=MONDAY)
    assert take_away(shop, f"{LISTINGS}/HP-W", {"If-Match": '"v1"'}).status_code == 204
    again = shop.ask(
        "PUT", f"{LISTINGS}/HP-W", "listings", json=listing, headers={"If-None-Match": "*"}
    )
    assert again.status_code == 201
    assert again.json()["planned"] == []
    apply(shop, repriced(shop, skus=["HP-W"])["id"])
    told = shop.ask("GET", f"{LISTINGS}/HP-W", "cost").json()
    assert [each["unit_price"] for each in told["price"]["breaks"]] == ["46.90", "30.90", "28.90"]
    assert told["planned"] == []


def test_prices_are_not_listed_from_a_day_whose_rates_are_known_to_be_others(shop: Door) -> None:
    dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "90"}
    assert change(shop, dearer, effective_from=MONDAY).status_code == 201
    name = repriced(shop, over="all", rates_on="2026-12-01")["id"]
    answer = applied(shop, name, effective_from=MONDAY)
    assert (answer.status_code, problem_type(answer)) == (409, "moved-on")
    assert answer.json()["errors"][0]["pointer"] == "/effective_from"
    assert applied(shop, name).status_code == 200

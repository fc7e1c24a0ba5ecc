"""The price of a sku: what was applied last, by the largest break that is reached; never anew."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import pytest

from gramhour.contract.answer import PriceBreak, PriceQuote
from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, change, refused
from tests.http.door import NOW, Door, opened, problem_type, shop_with
from tests.http.offering import LISTINGS, put_entry, take_away
from tests.http.repriced import (
    QUOTES,
    apply,
    demo_sheet,
    describe,
    list_prices,
    listed,
    prices_of,
    quoted,
    repriced,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}
POT: dict[str, Any] = {
    "name": "Herb pot",
    "pieces": [{"machine": "large", "nozzle": "n08", "print_min": "380",
                "feed": [{"material": "asa-green", "mass_g": "140"}]}],
    "work": {"order_min": 12, "unit_min": "4"}, "hazards": ["food contact"],
}  # fmt: skip
IN_SHOP: dict[str, Any] = {"product": "pot", "channel": "own-shop", "breaks": [3, 10, 25]}
NOT_LISTED = ("not-listed", [("/sku", "nothing is listed under it for this key")])
CELL = "/v1/unit-price"


@pytest.fixture
def clock() -> list[datetime]:
    return [NOW]


@pytest.fixture
def shop(tmp_path: Path, clock: list[datetime]) -> Iterator[Door]:
    """The demo's shop, open to all, with a pot from three units on, in sixes, and unpriced."""
    path = shop_with(tmp_path / "gramhour.sqlite", "a pot as it is sold", sell_a_pot)
    with opened(Settings(store=path, public_quotes=True), lambda: clock[0]) as door:
        yield door


def sell_a_pot(door: Door) -> None:
    describe(door, "pot", POT)
    listed(door, {"sku": "P", **IN_SHOP},
           {"sku": "T", **IN_SHOP, "channel": "trade", "breaks": [6, 24]},
           {"sku": "M", **IN_SHOP, "channel": "market"})  # fmt: skip
    list_prices(door)
    listed(door, {"sku": "N", **IN_SHOP})


def of_sku(
    door: Door, sku: Any = "P", quantity: Any = 3, key: str | None = "price", **more: Any
) -> httpx.Response:
    sent = {"sku": sku, "quantity": quantity, **more}
    return door.ask("POST", QUOTES, key, json=sent)


def price_at(door: Door, quantity: int, key: str | None = "price") -> str:
    answer = of_sku(door, quantity=quantity, key=key)
    assert answer.status_code == 200, answer.text
    price: str = answer.json()["at_quantity"]["unit_price"]
    return price


def dearer(door: Door, based_on: int = 1, **more: Any) -> None:
    assert change(door, LABOUR, based_on=based_on, **more).status_code == 201


def as_bought(told: dict[str, Any]) -> dict[str, Any]:
    """Keep what a buyer sees of a break."""
    return {name: told[name] for name in PriceBreak.__struct_fields__ if name != "flags"}


# By the largest break that is reached.


def test_a_quantity_takes_the_price_of_the_largest_break_that_it_reaches(shop: Door) -> None:
    prices = prices_of(shop, "P")
    assert prices is not None
    assert [*prices] == [3, 10, 25]
    assert len({*prices.values()}) == 3
    for quantity, break_ in ((3, 3), (4, 3), (9, 3), (10, 10), (24, 10), (25, 25), (7777, 25)):
        assert price_at(shop, quantity) == prices[break_]


@pytest.mark.parametrize("quantity", [3, 7, 10, 26])
def test_the_order_is_that_of_a_quote_at_the_listed_price(shop: Door, quantity: int) -> None:
    told = of_sku(shop, quantity=quantity, breaks=[]).json()
    price = told["at_quantity"]["unit_price"]
    quote = quoted(shop, product=POT, quantity=quantity, channel="own-shop",
                   aim={"unit_price": price}, breaks=[])  # fmt: skip
    assert as_bought(told["at_quantity"]) == as_bought(quote["at_quantity"])
    assert (told["cautions"], told["currency"]) == (quote["cautions"], "EUR")
    assert told["valid_until"] == quote["valid_until"] == "2026-12-15T23:59:59+01:00"
    assert told["lead_time"] == {"ready_on": quote["lead_time"]["ready_on"]}


def test_the_listed_breaks_are_told_unless_others_are_asked_for(shop: Door) -> None:
    prices = prices_of(shop, "P")
    assert prices is not None
    told = of_sku(shop, quantity=5).json()
    assert {each["quantity"]: each["unit_price"] for each in told["breaks"]} == prices
    told = of_sku(shop, quantity=5, breaks=[30, 4, 30]).json()
    assert [(each["quantity"], each["unit_price"]) for each in told["breaks"]] == [
        (4, prices[3]), (30, prices[25]),
    ]  # fmt: skip
    assert of_sku(shop, breaks=[]).json()["breaks"] == []


def test_below_the_smallest_break_it_is_not_sold(shop: Door) -> None:
    for quantity in (1, 2):
        answer = of_sku(shop, quantity=quantity)
        assert answer.status_code == 422
        detail = f"it is sold from 3 units on, not {quantity}"
        assert refused(answer) == ("invalid-request", [("/quantity", detail)])
    answer = of_sku(shop, quantity=2, breaks=[3, 1])
    assert refused(answer)[1] == [
        ("/breaks/1", "it is sold from 3 units on, not 1"),
        ("/quantity", "it is sold from 3 units on, not 2"),
    ]


def test_what_is_sold_in_multiples_is_sold_in_no_other_quantity(shop: Door) -> None:
    assert of_sku(shop, "T", 18).status_code == 200
    answer = of_sku(shop, "T", 20, breaks=[6, 25])
    assert answer.status_code == 422
    assert refused(answer)[1] == [
        ("/quantity", "it is sold in multiples of 6, not 20"),
        ("/breaks/1", "it is sold in multiples of 6, not 25"),
    ]


def test_a_minimum_order_is_told_at_a_listed_price_too(shop: Door) -> None:
    told = of_sku(shop, "T", 6).json()["at_quantity"]
    at_price = quoted(shop, product=POT, quantity=6, channel="trade", breaks=[],
                      aim={"unit_price": told["unit_price"]})["at_quantity"]  # fmt: skip
    minimum = Decimal(told["unit_price"]) * 6 < 75
    assert ("minimum_order_applied" in told["flags"]) is minimum
    assert as_bought(told) == as_bought(at_price)


# Never computed anew.


def test_a_change_of_rates_moves_no_price_until_it_is_applied(shop: Door) -> None:
    before = of_sku(shop, quantity=12).json()
    dearer(shop)
    assert of_sku(shop, quantity=12).json() == before
    describe(shop, "pot", {**POT, "reject_pct": 30})
    later = of_sku(shop, quantity=12).json()
    assert later.pop("lead_time")["ready_on"] > before.pop("lead_time")["ready_on"]
    assert later == before
    list_prices(shop)
    after = of_sku(shop, quantity=12).json()
    assert Decimal(after["at_quantity"]["unit_price"]) > Decimal(
        before["at_quantity"]["unit_price"]
    )


def test_planned_prices_come_into_force_with_their_day(shop: Door, clock: list[datetime]) -> None:
    before = price_at(shop, 12)
    apply(shop, repriced(shop, discount_pct=10)["id"], effective_from=MONDAY)
    assert price_at(shop, 12) == before
    clock[0] = datetime.fromisoformat("2026-12-06T22:59:59+00:00")  # Vienna is an hour ahead
    assert price_at(shop, 12) == before
    clock[0] += timedelta(seconds=1)
    assert Decimal(price_at(shop, 12)) < Decimal(before)
    assert price_at(shop, 12, key=None) == price_at(shop, 12)


# To whom.


def test_without_a_price_or_a_listing_there_is_none(shop: Door) -> None:
    for sku in ("N", "X", "p"):
        answer = of_sku(shop, sku)
        assert (answer.status_code, refused(answer)) == (404, NOT_LISTED)


def test_a_price_key_is_told_of_every_member_that_it_may_not_send(shop: Door) -> None:
    beyond: dict[str, Any] = {
        "aim": {"margin_pct": 1},
        "discount_pct": 5,
        "rates_on": "2026-12-01",
        "product": POT,
    }
    answer = of_sku(shop, **beyond)
    assert answer.status_code == 403
    kind, faults = refused(answer)
    assert kind == "member-not-allowed"
    assert {place for place, _ in faults} == {f"/{name}" for name in beyond}
    assert of_sku(shop, channel="own-shop").status_code == 200


def test_a_listing_on_another_channel_is_not_told_of(shop: Door) -> None:
    assert refused(of_sku(shop, channel="market")) == NOT_LISTED
    assert of_sku(shop, key="bound").status_code == 200
    assert refused(of_sku(shop, "M", key="bound")) == NOT_LISTED
    assert problem_type(of_sku(shop, "M", key="bound", channel="market")) == "key-may-not"


def test_who_may_see_all_listings_is_told_which_one_was_meant_and_on_which_channel(
    shop: Door,
) -> None:
    there = ("/channel", "P is not listed on this channel; it is on 'own-shop'")
    meant = ("/sku", "nothing is listed under it for this key; did you mean 'P'?")
    for key in ("price", "bound", None):
        assert refused(of_sku(shop, "p", key=key)) == NOT_LISTED
    assert refused(of_sku(shop, "p", key="cost")) == ("not-listed", [meant])
    assert refused(of_sku(shop, key="cost", channel="market")) == ("not-listed", [there])
    cell = {"sku": "P", "quantity": 3, "channel": "market"}
    assert refused(shop.ask("GET", CELL, "cost", params=cell))[1] == [("channel", there[1])]


def test_without_a_key_there_are_prices_of_public_channels_only(shop: Door) -> None:
    assert of_sku(shop, key=None).json() == of_sku(shop).json()
    assert refused(of_sku(shop, "M", key=None)) == NOT_LISTED
    assert of_sku(shop, "M").status_code == 200
    own_shop = {**demo_sheet()["channels"]["own-shop"], "public": False}
    closed = {"kind": "channels", "code": "own-shop", "value": own_shop}
    assert change(shop, closed, based_on=1).status_code == 201
    assert of_sku(shop, key=None).status_code in (401, 404)
    assert of_sku(shop).status_code == 200


@pytest.mark.parametrize("sku", [7, None, ["P"], {}, "", "a b", "x" * 65])
@pytest.mark.parametrize("key", ["price", "cost"])
def test_what_can_be_no_sku_is_refused(shop: Door, sku: Any, key: str) -> None:
    answer = of_sku(shop, sku, key=key)
    assert answer.status_code in (404, 422)
    assert [place for place, _ in refused(answer)[1]] == ["/sku"]


def test_a_buyer_sees_prices_and_nothing_else(shop: Door) -> None:
    costs = {each["unit_cost"] for each in listed_breaks(shop)}
    for answer in (of_sku(shop), of_sku(shop, key=None), of_sku(shop, key="bound")):
        told = answer.json()
        assert told.keys() <= {*PriceQuote.__struct_fields__}
        for each in (told["at_quantity"], *told["breaks"]):
            assert [*each] == [*PriceBreak.__struct_fields__]
        assert not any(cost in answer.text for cost in costs)
        assert answer.headers["cache-control"] == "private, no-cache"


def listed_breaks(door: Door) -> Any:
    return door.ask("GET", f"{LISTINGS}/P", "cost").json()["price"]["breaks"]


# Withdrawn.


def test_a_listing_that_is_taken_away_has_no_price(shop: Door) -> None:
    apply(shop, repriced(shop, discount_pct=10)["id"], effective_from=MONDAY)
    assert take_away(shop, f"{LISTINGS}/P", {"If-Match": '"v1"'}).status_code == 204
    assert (of_sku(shop).status_code, refused(of_sku(shop))) == (404, NOT_LISTED)


@pytest.mark.parametrize("other", [{"channel": "market"}, {"variant": "chalk"}])
def test_a_listing_of_something_else_has_no_price_until_it_gets_one(
    shop: Door, other: dict[str, str], clock: list[datetime]
) -> None:
    describe(shop, "pot", POT, {"name": "chalk", "materials": {"asa-green": "pla-chalk"}})
    apply(shop, repriced(shop, discount_pct=10)["id"], effective_from=MONDAY)
    put = put_entry(shop, f"{LISTINGS}/P", {**IN_SHOP, **other}, {"If-Match": '"v1"'})
    assert put.status_code == 200
    assert refused(of_sku(shop)) == NOT_LISTED
    clock[0] = NOW + timedelta(days=7)
    assert refused(of_sku(shop)) == NOT_LISTED
    apply(shop, repriced(shop, skus=["P"])["id"])
    assert of_sku(shop).status_code == 200


# For whoever sees costs.


def test_the_cost_view_has_a_fresh_quote_and_the_listed_price_beside(shop: Door) -> None:
    dearer(shop)
    told = of_sku(shop, quantity=12, key="cost").json()
    fresh = quoted(shop, product=POT, quantity=12, channel="own-shop", breaks=[3, 10, 25])
    price = shop.ask("GET", f"{LISTINGS}/P", "cost").json()["price"]
    assert told.pop("listed") == price
    assert (price["rates_revision"], told["rates_revision"]) == (1, 2)
    listed_at = {12: 10, 3: 3, 10: 10, 25: 25}
    prices = {each["from_quantity"]: each["unit_price"] for each in price["breaks"]}
    differ = 0
    for each, alone in zip(
        [told["at_quantity"], *told["breaks"]],
        [fresh["at_quantity"], *fresh["breaks"]],
        strict=True,
    ):
        differs = each["unit_price"] != prices[listed_at[each["quantity"]]]
        differ += differs
        flag = ["differs_from_listing"] if differs else []
        assert each == {**alone, "flags": [*alone["flags"], *flag]}
    assert differ > 0


def test_what_costs_the_same_is_not_flagged(shop: Door) -> None:
    told = quoted(shop, sku="P", quantity=10)
    for each in (told["at_quantity"], *told["breaks"]):
        assert "differs_from_listing" not in each["flags"]
    told = quoted(shop, sku="P", quantity=10, aim={"margin_pct": 60})
    assert "differs_from_listing" in told["at_quantity"]["flags"]


def test_what_is_not_listed_is_flagged_below_the_first_break(shop: Door) -> None:
    told = quoted(shop, sku="P", quantity=1)
    assert "differs_from_listing" in told["at_quantity"]["flags"]


def test_a_listing_without_a_price_is_quoted_afresh_only(shop: Door) -> None:
    told = quoted(shop, sku="N", quantity=3)
    assert "listed" not in told
    assert "differs_from_listing" not in told["at_quantity"]["flags"]
    assert refused(of_sku(shop, "X", key="cost")) == NOT_LISTED


def test_the_price_view_of_a_cost_key_is_what_buyers_get(shop: Door) -> None:
    dearer(shop)
    sent = {"sku": "P", "quantity": 12}
    told = shop.ask("POST", f"{QUOTES}?view=price", "cost", json=sent)
    assert told.json() == of_sku(shop, quantity=12).json()


# In a cell, and in a batch.


@pytest.mark.parametrize("key", ["price", "cost", None])
def test_a_cell_shows_the_listed_price(shop: Door, key: str | None) -> None:
    prices = prices_of(shop, "P")
    dearer(shop)
    assert prices is not None
    answer = shop.ask("GET", CELL, key, params={"sku": "P", "quantity": 12})
    assert (answer.status_code, answer.text) == (200, prices[10])
    assert answer.headers["content-type"].startswith("text/plain")
    below = shop.ask("GET", CELL, key, params={"sku": "P", "quantity": 1})
    assert refused(below) == ("invalid-request", [
        ("quantity", "it is sold from 3 units on, not 1")])  # fmt: skip
    gone = shop.ask("GET", CELL, key, params={"sku": "X", "quantity": 3})
    assert (gone.status_code, problem_type(gone)) == (404, "not-listed")


def test_cells_show_the_listed_breaks(shop: Door) -> None:
    prices = prices_of(shop, "P")
    assert prices is not None
    answer = shop.ask("GET", CELL, "price", params={"sku": "P", "quantity": 3},
                      headers={"Accept": "text/csv"})  # fmt: skip
    _, *rows = [line.split(",") for line in answer.text.splitlines()]
    assert {int(row[0]): row[1] for row in rows} == prices


def test_a_batch_answers_skus_beside_each_other(shop: Door) -> None:
    requests = [{"sku": sku, "quantity": 12, "reference": sku} for sku in ("P", "X", "T", "N")]
    answer = shop.ask("POST", f"{QUOTES}/batch", "price", json={"requests": requests})
    assert answer.status_code == 200
    answers = answer.json()["answers"]
    assert [each["reference"] for each in answers] == ["P", "X", "T", "N"]
    assert answers[0]["quote"] == of_sku(shop, quantity=12).json()
    assert answers[2]["quote"] == of_sku(shop, "T", 12).json()
    for n in (1, 3):
        assert answers[n]["problem"]["type"] == "/problems/not-listed"

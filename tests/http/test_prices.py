"""What is for sale on a channel, for a storefront that follows what changes; and no cost in it."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest

from gramhour.contract.prices import PriceItem, Prices, PriceStep
from gramhour_service.http.settings import Settings
from gramhour_service.store.opening import open_store, writing
from gramhour_service.store.prices import add_price, price_in_force
from tests.http.asking import MONDAY, TODAY, change, refused
from tests.http.door import NOW, Door, opened, problem_type
from tests.http.offering import LISTINGS, skus, take_away
from tests.http.repriced import (
    all_priced,
    apply,
    lines_of,
    list_prices,
    listed,
    listing_of,
    prices_of,
    repriced,
    rows_listed,
)

PRICES = "/v1/prices"
LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}


@pytest.fixture
def clock() -> list[datetime]:
    return [NOW]


@pytest.fixture
def shop(tmp_path: Path, clock: list[datetime]) -> Iterator[Door]:
    """The demo's shop, its own shop open to all, every listing priced."""
    path = all_priced(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path, public_quotes=True), lambda: clock[0]) as door:
        yield door


def ask(door: Door, key: str | None = "price", **query: Any) -> httpx.Response:
    return door.ask("GET", PRICES, key, params={"channel": "own-shop", **query})


def read(door: Door, key: str | None = "price", **query: Any) -> Any:
    answer = ask(door, key, **query)
    assert answer.status_code == 200, answer.text
    return answer.json()


def items(door: Door, key: str | None = "price", **query: Any) -> list[tuple[str, str, int, int]]:
    """Read what is for sale: the sku, from which day, under which number, how many breaks."""
    return [
        (each["sku"], each["valid_from"], each["change"], len(each["breaks"]))
        for each in read(door, key, **query)["items"]
    ]


def on_channel(door: Door, channel: str = "own-shop") -> list[str]:
    return sorted(sku for sku, row in rows_listed(door).items() if row["channel"] == channel)


def test_everything_that_is_listed_on_a_channel_stands_with_its_prices(shop: Door) -> None:
    least = {"trade": ("75.00", 6)}
    for channel, includes_tax in (("own-shop", True), ("market", True), ("trade", False)):
        told = read(shop, channel=channel)
        holds = told.get("minimum_order"), told.get("multiple_of")
        assert holds == least.get(channel, (None, None))
        assert (told["channel"], told["currency"]) == (channel, "EUR")
        assert told["prices_include_tax"] is includes_tax
        assert told["prices_on"] == TODAY
        assert told["change"] == max(each["change"] for each in told["items"])
        assert sorted(each["sku"] for each in told["items"]) == on_channel(shop, channel)
        for each in told["items"]:
            price = listing_of(shop, each["sku"])["price"]
            assert (each["change"], each["valid_from"]) == (price["change"], TODAY)
            assert each["breaks"] == [
                {name: step[name] for name in PriceStep.__struct_fields__}
                for step in price["breaks"]
            ]


def test_a_listings_own_name_goes_before_its_products(shop: Door) -> None:
    rows = rows_listed(shop)
    listed(shop, {"sku": "HP-W", **rows["HP-W"], "name": "Pot for the window sill"})
    names = {each["sku"]: each["name"] for each in read(shop)["items"]}
    assert names["HP-W"] == "Pot for the window sill"
    assert names["HP-chalk-W"] == "Herb planter, chalk white"


def test_no_cost_stands_anywhere_in_it(shop: Door) -> None:
    """Unit costs have four decimals; none of those of the shop is found in what buyers get."""
    costs = {
        step["unit_cost"]
        for sku in on_channel(shop)
        for step in listing_of(shop, sku)["price"]["breaks"]
    }
    assert len(costs) > 20
    apply(shop, repriced(shop, discount_pct=7)["id"], effective_from=MONDAY, note="quetzal")
    for key in ("price", "bound", None, "cost"):
        answer = ask(shop, key)
        told = answer.json()
        shown = {step["unit_price_net"] for each in told["items"] for step in each["breaks"]}
        assert not any(cost in answer.text for cost in costs - shown)
        assert "quetzal" not in answer.text
        assert "discount" not in answer.text
        assert told.keys() <= {*Prices.__struct_fields__}
        without_seal = [*PriceItem.__struct_fields__[:-1]]
        assert all([*each] == without_seal for each in told["items"])
        steps = [step for each in told["items"] for step in each["breaks"]]
        assert all([*step] == [*PriceStep.__struct_fields__] for step in steps)


# What changed since.


def test_only_what_changed_since_a_number_comes_and_numbers_only_grow(shop: Door) -> None:
    first = read(shop)
    assert read(shop, changed_since=first["change"])["items"] == []
    rows, seen = rows_listed(shop), first["change"]
    for margin in (45, 47, 49):
        listed(shop, {"sku": "HP-W", **rows["HP-W"], "aim": {"margin_pct": margin + 5}})
        list_prices(shop, skus=["HP-W"])
        since = read(shop, changed_since=seen)
        assert [each["sku"] for each in since["items"]] == ["HP-W"]
        assert since["items"][0]["change"] == since["change"] == seen + 1
        seen = since["change"]
    assert [sku for sku, *_ in items(shop, changed_since=first["change"])] == ["HP-W"]
    assert read(shop, channel="market", changed_since=first["change"])["items"] == []


def test_following_the_changes_comes_to_what_is_for_sale(shop: Door) -> None:
    """A storefront that takes what changed knows in the end what one that reads all of it does."""
    told = read(shop)
    known = {each["sku"]: each for each in told["items"]}

    def follow() -> None:
        nonlocal told
        told = read(shop, changed_since=told["change"])
        for each in told["items"]:
            known[each["sku"]] = each
            if not each["breaks"]:
                del known[each["sku"]]
        assert known == {each["sku"]: each for each in read(shop)["items"]}

    assert change(shop, LABOUR, based_on=1).status_code == 201
    apply(shop, repriced(shop)["id"], but=["HP-W"])
    follow()
    assert take_away(shop, f"{LISTINGS}/CR-W", {"If-Match": '"v1"'}).status_code == 204
    listed(shop, {"sku": "NEW", **rows_listed(shop)["HP-W"]})
    follow()
    list_prices(shop)
    follow()
    assert {"NEW", "HP-W"} <= known.keys()
    assert "CR-W" not in known


def test_what_was_taken_away_is_told_once_without_breaks(shop: Door) -> None:
    before = read(shop)["change"]
    assert take_away(shop, f"{LISTINGS}/HP-W", {"If-Match": '"v1"'}).status_code == 204
    since = read(shop, changed_since=before)
    assert [(each["sku"], each["breaks"]) for each in since["items"]] == [("HP-W", [])]
    assert since["change"] == since["items"][0]["change"] == before + 1
    assert since["items"][0]["valid_from"] == TODAY
    assert read(shop, changed_since=since["change"])["items"] == []
    assert "HP-W" not in [sku for sku, *_ in items(shop)]


def test_what_goes_to_another_channel_is_withdrawn_from_the_first(shop: Door) -> None:
    before = read(shop)["change"]
    moved = {**rows_listed(shop)["HP-W"], "channel": "market"}
    listed(shop, {"sku": "HP-W", **moved})
    assert items(shop, changed_since=before) == [("HP-W", TODAY, before + 1, 0)]
    assert items(shop, channel="market", changed_since=before) == []
    list_prices(shop, skus=["HP-W"])
    on_market = items(shop, channel="market", changed_since=before)
    assert on_market == [("HP-W", TODAY, before + 2, 3)]
    assert items(shop, changed_since=before) == [("HP-W", TODAY, before + 1, 0)]


# What is nobody's business.


def told_to(door: Door, key: str | None) -> list[Any]:
    """Ask by every door at which listed prices are told, and keep all that is told there."""
    json = {"Accept": "application/json"}
    by_sku = {"sku": "HP-W", "quantity": 12}
    answers = [
        *(door.ask(method, PRICES, key, params={"channel": "own-shop"})
          for method in ("GET", "HEAD")),
        *(door.ask(method, "/v1/unit-price", key, params=by_sku, headers=headers)
          for method in ("GET", "HEAD")
          for headers in ({}, {"Accept": "text/csv"}, json)),
        door.ask("POST", "/v1/quotes", key, json=by_sku),
        door.ask("POST", "/v1/quotes/batch", key, json={"requests": [by_sku]}),
    ]  # fmt: skip
    if key is None:
        wish = {"sku": "HP-W", "quantity": 12}
        answers += [door.ask("GET", page, params=wish) for page in ("/", "/quotation")]
    return [
        (answer.status_code, answer.content,
         {name: value for name, value in answer.headers.items() if name != "x-request-id"})
        for answer in answers
    ]  # fmt: skip


def test_costs_that_move_no_price_and_prices_of_other_channels_change_nothing_that_is_told(
    shop: Door,
) -> None:
    """Nor does what is planned, to the public, whom it is not told."""
    buyers = ("price", "bound", None)
    before = {key: told_to(shop, key) for key in buyers}
    assert {status for told in before.values() for status, *_ in told} == {200}
    dearer = {"kind": "shop", "code": "price_per_kwh", "value": "0.3101"}
    assert change(shop, dearer, based_on=1).status_code == 201
    done = repriced(shop)
    assert (done["counts"]["up"], done["counts"]["down"]) == (0, 0)
    costs = [(step["unit_cost_before"], step["unit_cost"])
             for line in lines_of(shop, done["id"]) for step in line["breaks"]]  # fmt: skip
    assert any(old != new for old, new in costs)
    assert apply(shop, done["id"])["applied"] == 0
    assert {key: told_to(shop, key) for key in buyers} == before
    store = open_store(shop.app.state.shop.settings.store)
    on_other, planned = (price_in_force(store, sku, NOW.date()) for sku in ("HP-T", "HP-W"))
    assert on_other is not None
    assert planned is not None
    with writing(store):
        add_price(store, on_other)
    assert {key: told_to(shop, key) for key in buyers} == before
    with writing(store):
        add_price(store, planned._replace(effective_from=MONDAY, planned=1))
    store.close()
    assert told_to(shop, None) == before[None]


# What is planned.


def test_planned_prices_come_with_their_day_to_keys_and_not_to_the_public(
    shop: Door, clock: list[datetime]
) -> None:
    before, today = read(shop)["change"], read(shop, None)["items"]
    done = repriced(shop, skus=["HP-W", "LS-W"], discount_pct=10)
    apply(shop, done["id"], effective_from=MONDAY)
    assert read(shop, None)["items"] == today
    for key in ("price", "bound", "cost"):
        assert items(shop, key, changed_since=before) == [
            ("HP-W", MONDAY, before + 1, 3), ("LS-W", MONDAY, before + 2, 3),
        ]  # fmt: skip
        days = [(sku, day) for sku, day, *_ in items(shop, key) if sku == "HP-W"]
        assert days == [("HP-W", TODAY), ("HP-W", MONDAY)]
    clock[0] = NOW + timedelta(days=6)
    assert [(sku, day) for sku, day, *_ in items(shop, None) if sku == "HP-W"] == [("HP-W", MONDAY)]
    assert [(sku, day) for sku, day, *_ in items(shop) if sku == "HP-W"] == [("HP-W", MONDAY)]
    breaks = next(each for each in read(shop)["items"] if each["sku"] == "HP-W")["breaks"]
    told = {each["from_quantity"]: each["unit_price"] for each in breaks}
    assert told == prices_of(shop, "HP-W")


def test_of_what_is_taken_away_the_planned_prices_go_too(shop: Door, clock: list[datetime]) -> None:
    done = repriced(shop, skus=["HP-W"], discount_pct=10)
    apply(shop, done["id"], effective_from=MONDAY)
    assert take_away(shop, f"{LISTINGS}/HP-W", {"If-Match": '"v1"'}).status_code == 204
    for day in (0, 6, 7):
        clock[0] = NOW + timedelta(days=day)
        assert not any(sku == "HP-W" and breaks for sku, _, _, breaks in items(shop))
        assert not any(sku == "HP-W" for sku, *_ in items(shop, None))


def test_a_price_that_was_planned_and_withdrawn_is_under_no_floor_on_its_day(
    shop: Door, clock: list[datetime]
) -> None:
    """A sale for Monday is under its floor; before that the listing goes to another channel."""
    apply(shop, repriced(shop, skus=["HP-W"], discount_pct=28)["id"], effective_from=MONDAY)
    clock[0] = NOW + timedelta(days=6)
    assert "HP-W" in skus(shop, below_floor="true")
    clock[0] = NOW
    listed(shop, {"sku": "HP-W", **rows_listed(shop)["HP-W"], "channel": "market"})
    clock[0] = NOW + timedelta(days=6)
    assert "HP-W" not in skus(shop, below_floor="true")


# Pages, tags, doors.


@pytest.mark.parametrize("limit", [1, 5, 1000])
def test_pages_hold_every_price_once(shop: Door, limit: int) -> None:
    apply(shop, repriced(shop, discount_pct=10)["id"], effective_from=MONDAY)
    whole, found = read(shop, limit=1000)["items"], []
    query: dict[str, Any] = {"limit": limit}
    while True:
        page = read(shop, **query)
        found += page["items"]
        if "next_cursor" not in page:
            break
        assert len({each["sku"] for each in page["items"]}) == limit
        query["cursor"] = page["next_cursor"]
    assert found == whole
    assert len(whole) == 2 * len(on_channel(shop)) > 25
    skus = [each["sku"] for each in whole]
    assert skus == sorted(skus)


def test_pages_of_what_changed_hold_every_change_once(shop: Door) -> None:
    before = read(shop)["change"]
    apply(shop, repriced(shop, discount_pct=10)["id"])
    whole = read(shop, changed_since=before)["items"]
    first = read(shop, changed_since=before, limit=4)
    rest = read(shop, changed_since=before, cursor=first["next_cursor"])
    assert [*first["items"], *rest["items"]] == whole
    assert len(whole) == len(on_channel(shop))


def test_what_has_not_changed_is_not_sent_again(shop: Door) -> None:
    answer = ask(shop)
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.headers["vary"] == "Accept, Authorization"
    tag = answer.headers["etag"]
    for seen in (tag, f"W/{tag}"):
        again = shop.ask("GET", PRICES, "price", params={"channel": "own-shop"},
                         headers={"If-None-Match": seen})  # fmt: skip
        assert (again.status_code, again.content) == (304, b"")
    assert change(shop, LABOUR, based_on=1).status_code == 201
    assert ask(shop).headers["etag"] == tag
    list_prices(shop)
    assert ask(shop).headers["etag"] != tag


def test_a_key_of_one_channel_need_not_name_it(shop: Door) -> None:
    answer = shop.ask("GET", PRICES, "bound")
    assert answer.json() == read(shop, "bound") == read(shop)
    for key in ("price", "cost"):
        answer = shop.ask("GET", PRICES, key)
        assert refused(answer) == ("invalid-request", [
            ("channel", "is missing: name the channel")])  # fmt: skip


@pytest.mark.parametrize(
    ("key", "channel"),
    [("price", "no-such"), ("bound", "market"), ("bound", "no-such"), (None, "market")],
)
def test_a_channel_that_is_not_open_is_not_told_of(
    shop: Door, key: str | None, channel: str
) -> None:
    answer = ask(shop, key, channel=channel)
    told = ("unknown-entry", [("channel", "no such channel is open to you")])
    assert (answer.status_code, refused(answer)) == (404, told)


def test_who_sees_costs_is_told_which_channel_was_meant(shop: Door) -> None:
    detail = "no such channel is open to you; did you mean 'market'?"
    assert refused(ask(shop, "cost", channel="markets"))[1] == [("channel", detail)]


def test_the_public_follows_no_changes(shop: Door) -> None:
    answer = ask(shop, None, changed_since=3)
    assert refused(answer) == ("invalid-request", [
        ("changed_since", "needs a key: without one there are today's prices only")])  # fmt: skip
    assert sorted(sku for sku, *_ in items(shop, None)) == on_channel(shop)


@pytest.mark.parametrize(
    "query",
    [
        {"changed_since": "-1"},
        {"changed_since": "x"},
        {"cursor": "x"},
        {"limit": "0"},
        {"sku": "P"},
    ],
)
def test_what_cannot_be_asked_is_refused(shop: Door, query: dict[str, str]) -> None:
    answer = ask(shop, **query)
    assert answer.status_code == 422
    assert [place for place, _ in refused(answer)[1]] == [*query]


def test_an_operators_key_sees_no_prices(shop: Door) -> None:
    answer = ask(shop, "operate")
    assert (answer.status_code, problem_type(answer)) == (403, "key-may-not")

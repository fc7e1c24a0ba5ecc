"""Prices are listed from a day on, all or none; nothing that was not seen reaches the shop."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import FRIDAY, MONDAY, TODAY, change, refused
from tests.http.door import NOW, Door, opened, problem_type
from tests.http.four_pots import IN_SHOP, POT, SKUS, all_prices, four_pots
from tests.http.offering import LISTINGS
from tests.http.repriced import (
    applied,
    apply,
    by_sku,
    listed,
    listing_of,
    looked_at,
    only_line,
    prices_of,
    repriced,
    told,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}


@pytest.fixture
def clock() -> list[datetime]:
    """What time it is; a test may put it forward."""
    return [NOW]


@pytest.fixture
def shop(tmp_path: Path, clock: list[datetime]) -> Iterator[Door]:
    """The demo's shop with a pot under four skus, each priced."""
    path = four_pots(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path), lambda: clock[0]) as door:
        yield door


def as_reported(door: Door, name: str) -> dict[str, dict[int, str]]:
    return {
        sku: {each["from_quantity"]: each["unit_price"] for each in line["breaks"]}
        for sku, line in by_sku(door, name).items()
    }


def dearer(door: Door, labour: str = "44", **more: Any) -> Any:
    """Change what an hour costs, and reprice."""
    revision = door.ask("GET", "/v1/rates", "cost").json()["rates_revision"]
    day = {"effective_from": more["rates_on"]} if "rates_on" in more else {}
    answer = change(door, {**LABOUR, "value": labour}, based_on=revision, **day)
    assert answer.status_code == 201, answer.text
    return repriced(door, **more)


def newest(door: Door) -> int:
    """Say the newest change of a price."""
    change_number: int = door.ask(
        "GET", "/v1/prices", "price", params={"channel": "own-shop"}
    ).json()["change"]
    return change_number


# What applying does.


def test_what_the_report_showed_is_listed(shop: Door) -> None:
    before = all_prices(shop)
    done = dearer(shop, note="spring")
    assert all_prices(shop) == before
    answer = applied(shop, done["id"])
    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-store"
    assert answer.json() == {
        "id": done["id"], "applied": 4, "left_out": 0, "failed": 0, "valid_from": TODAY,
        "change": 8, "overruled": 0, "overruled_by": [], "planned_by_recalled": [],
    }  # fmt: skip
    assert all_prices(shop) == as_reported(shop, done["id"])
    assert all(all_prices(shop)[sku] != before[sku] for sku in SKUS)
    line, price = by_sku(shop, done["id"])["A"], listing_of(shop, "A")["price"]
    assert price == {
        "change": 5, "valid_from": TODAY, "rates_revision": 2, "rates_on": TODAY,
        "breaks": [
            {name: each[name] for name in ("from_quantity", "unit_price", "unit_cost")}
            | {"unit_price_net": net["unit_price_net"]}
            for each, net in zip(line["breaks"], price["breaks"], strict=True)
        ],
        "applied_at": "2026-12-01T09:00:00Z", "applied_by": "listings", "note": "spring",
    }  # fmt: skip
    now = told(shop, done["id"])
    assert (now["state"], now["applied_by"]) == ("applied", "listings")
    assert now["applied_at"] == "2026-12-01T09:00:00Z"


def test_net_prices_are_those_of_a_quote(shop: Door) -> None:
    for each in listing_of(shop, "A")["price"]["breaks"]:
        sent = {"product": POT, "quantity": each["from_quantity"], "channel": "own-shop"}
        quote = shop.ask("POST", "/v1/quotes", "cost", json=sent).json()["at_quantity"]
        for member in ("unit_price", "unit_price_net", "unit_cost"):
            assert each[member] == quote[member]


def test_a_note_of_its_own_stands_with_the_prices(shop: Door) -> None:
    done = dearer(shop, note="spring")
    apply(shop, done["id"], note="agreed with Ada")
    assert listing_of(shop, "A")["price"]["note"] == "agreed with Ada"


def test_listings_named_in_except_keep_their_price(shop: Door) -> None:
    before, done = all_prices(shop), dearer(shop)
    answer = apply(shop, done["id"], but=["B", "D", "B"])
    assert (answer["applied"], answer["left_out"]) == (2, 2)
    expected = as_reported(shop, done["id"]) | {sku: before[sku] for sku in ("B", "D")}
    assert all_prices(shop) == expected
    assert looked_at(shop) == ["B", "D"]


def test_all_can_be_left_out(shop: Door) -> None:
    before, done = all_prices(shop), dearer(shop)
    assert apply(shop, done["id"], but=[*SKUS])["applied"] == 0
    assert all_prices(shop) == before
    assert told(shop, done["id"])["state"] == "applied"


@pytest.mark.parametrize("member", ["except", "confirm"])
def test_a_name_that_is_no_listing_is_refused(shop: Door, member: str) -> None:
    before, done = all_prices(shop), dearer(shop)
    named: dict[str, Any] = {member: ["A", "X", "E"]}
    answer = applied(shop, done["id"], **named)
    assert answer.status_code == 422
    assert refused(answer) == ("invalid-request", [
        (f"/{member}", "there is no listing 'E'"),
        (f"/{member}", "there is no listing 'X'"),
    ])  # fmt: skip
    assert all_prices(shop) == before


def test_every_price_change_has_a_number_of_its_own_and_numbers_only_grow(shop: Door) -> None:
    assert [listing_of(shop, sku)["price"]["change"] for sku in SKUS] == [1, 2, 3, 4]
    apply(shop, dearer(shop)["id"], but=["A"])
    assert [listing_of(shop, sku)["price"]["change"] for sku in SKUS] == [1, 5, 6, 7]
    apply(shop, dearer(shop, "50")["id"])
    assert [listing_of(shop, sku)["price"]["change"] for sku in SKUS] == [8, 9, 10, 11]
    history = shop.ask("GET", f"{LISTINGS}/B/prices", "cost").json()["items"]
    assert [each["change"] for each in history] == [9, 5, 2]


# A price that would move by more than one thought.


def test_a_price_that_moves_by_more_than_allowed_has_to_be_confirmed(shop: Door) -> None:
    """30 % unless told otherwise; the report says by how much each moves."""
    before, done = all_prices(shop), dearer(shop, "150")
    moves = {sku: line["change_pct"] for sku, line in by_sku(shop, done["id"]).items()}
    assert all(Decimal(each) > 30 for each in moves.values())
    answer = applied(shop, done["id"], confirm=["B"], but=["C"])
    assert answer.status_code == 422
    kind, faults = refused(answer)
    assert (kind, [place for place, _ in faults]) == ("needs-confirming", ["/confirm", "/confirm"])
    for sku, (_, detail) in zip(("A", "D"), faults, strict=True):
        assert detail.startswith(
            f"the price of {sku} would move by {moves[sku]} %, more than 30 %: confirm it"
        )
    assert all_prices(shop) == before
    apply(shop, done["id"], max_change_pct="30", confirm=["A", "B", "D"], but=["C"])
    assert all_prices(shop) == as_reported(shop, done["id"]) | {"C": before["C"]}


def test_how_far_prices_may_move_can_be_said(shop: Door) -> None:
    done = dearer(shop)
    moves = Decimal(by_sku(shop, done["id"])["A"]["change_pct"])
    assert 0 < moves < 30
    less = applied(shop, done["id"], max_change_pct=str(moves - Decimal("0.01")))
    assert problem_type(less) == "needs-confirming"
    assert problem_type(applied(shop, done["id"], max_change_pct=0)) == "needs-confirming"
    assert applied(shop, done["id"], max_change_pct=str(moves)).status_code == 200


def test_prices_that_fall_by_more_have_to_be_confirmed_too(shop: Door) -> None:
    done = repriced(shop, discount_pct=40)
    assert all(Decimal(each["change_pct"]) < -30 for each in by_sku(shop, done["id"]).values())
    assert problem_type(applied(shop, done["id"])) == "needs-confirming"


def test_prices_that_rise_from_nothing_have_to_be_confirmed_whatever_may_move(shop: Door) -> None:
    """After a sale of 100 % no percentage says how far the way back is."""
    sale = repriced(shop, discount_pct=100)
    apply(shop, sale["id"], max_change_pct="100")
    back = repriced(shop)
    assert all("change_pct" not in line for line in by_sku(shop, back["id"]).values())
    kind, faults = refused(applied(shop, back["id"], max_change_pct="1000000", but=["B"]))
    assert kind == "needs-confirming"
    says = "would rise from 0: confirm it, or leave it out with except"
    assert faults == [("/confirm", f"the price of {sku} {says}") for sku in ("A", "C", "D")]
    apply(shop, back["id"], confirm=["A", "C", "D"], but=["B"])
    assert set(all_prices(shop)["B"].values()) == {"0.00"}


def test_what_is_held_or_stays_needs_no_confirming(shop: Door) -> None:
    listed(shop, {"sku": "B", **IN_SHOP, "hold": True},
           {"sku": "C", **IN_SHOP, "least_change": "500"})  # fmt: skip
    done = dearer(shop, "150", skus=["B", "C"])
    assert applied(shop, done["id"]).json()["applied"] == 0


# From which day.


def test_applying_on_friday_for_monday_changes_nothing_on_friday(
    shop: Door, clock: list[datetime]
) -> None:
    clock[0] = friday = NOW + timedelta(days=3)
    before, done = all_prices(shop), repriced(shop, discount_pct=10)
    answer = apply(shop, done["id"], effective_from=MONDAY)
    assert answer["valid_from"] == MONDAY
    assert all_prices(shop) == before
    planned = listing_of(shop, "A")["planned"]
    assert [(each["change"], each["valid_from"]) for each in planned] == [(5, MONDAY)]
    # The shop is in Vienna, an hour ahead of UTC in winter: Monday begins there at 23:00 UTC.
    clock[0] = friday.replace(hour=22, minute=59) + timedelta(days=2)
    assert all_prices(shop) == before
    clock[0] += timedelta(minutes=1)
    assert all_prices(shop) == as_reported(shop, done["id"])
    assert listing_of(shop, "A")["planned"] == []


def test_without_a_day_prices_hold_from_today_or_from_the_day_of_the_rates(
    shop: Door, clock: list[datetime]
) -> None:
    done = dearer(shop, rates_on=MONDAY)
    assert apply(shop, done["id"])["valid_from"] == MONDAY
    listed(shop, {"sku": "A", **IN_SHOP, "note": "x"})
    past = repriced(shop, skus=["A"])
    clock[0] = NOW + timedelta(days=1)
    assert apply(shop, past["id"])["valid_from"] == "2026-12-02"


def test_a_day_that_is_past_is_refused(shop: Door, clock: list[datetime]) -> None:
    before, done = all_prices(shop), dearer(shop)
    clock[0] = NOW + timedelta(days=3)
    answer = applied(shop, done["id"], effective_from=TODAY)
    assert answer.status_code == 422
    assert refused(answer) == ("invalid-request", [(
        "/effective_from",
        f"prices hold from today ({FRIDAY}) on, or later; they cannot change the past",
    )])  # fmt: skip
    assert all_prices(shop) == before
    assert apply(shop, done["id"], effective_from=FRIDAY)["valid_from"] == FRIDAY


def test_prices_of_a_later_day_stand_and_then_take_over(shop: Door, clock: list[datetime]) -> None:
    sale, usual = repriced(shop, discount_pct=10), all_prices(shop)
    apply(shop, sale["id"], effective_from=MONDAY)
    now = dearer(shop)
    apply(shop, now["id"])
    assert all_prices(shop) == as_reported(shop, now["id"])
    assert all_prices(shop) != usual
    clock[0] = NOW + timedelta(days=6)
    assert all_prices(shop) == as_reported(shop, sale["id"])


def test_after_a_sale_the_usual_prices_come_back(shop: Door) -> None:
    usual, sale = all_prices(shop), repriced(shop, discount_pct="12.5")
    assert (sale["discount_pct"], sale["of"]) == ("12.5", 4)
    apply(shop, sale["id"])
    for sku in SKUS:
        assert listing_of(shop, sku)["price"]["discount_pct"] == "12.5"
        in_sale = prices_of(shop, sku)
        # To the minor unit, half up (costing.md, 6).
        assert in_sale == {
            n: str((Decimal(price) * Decimal("0.875")).quantize(Decimal("0.01"), "ROUND_HALF_UP"))
            for n, price in usual[sku].items()
        }
    assert looked_at(shop) == [*SKUS]
    back = repriced(shop)
    assert back["counts"]["up"] == 4
    apply(shop, back["id"])
    assert all_prices(shop) == usual
    assert "discount_pct" not in listing_of(shop, "A")["price"]
    assert looked_at(shop) == []


def test_a_line_is_compared_with_what_is_listed_at_the_time(shop: Door) -> None:
    apply(shop, dearer(shop)["id"], but=["B", "C", "D"])
    lines = by_sku(shop, repriced(shop, over="all")["id"])
    assert {sku: line["outcome"] for sku, line in lines.items()} == {
        "A": "unchanged", "B": "up", "C": "up", "D": "up",
    }  # fmt: skip
    assert only_line(shop, skus=["A"]) == lines["A"]

"""What applying tells: planned prices that take over later, and what it did not look at."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, change
from tests.http.door import NOW, Door, opened
from tests.http.repriced import all_priced, applied, apply, listing_of, repriced

DEARER_WORK = {"kind": "shop", "code": "labour_rate_per_hour", "value": "40"}
STILL_DEARER = {**DEARER_WORK, "value": "48"}
UNUSED = {"kind": "components", "code": "sticker", "value": {"offers": [{"price": "0.05"}]}}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop, every listing priced."""
    path = all_priced(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path), lambda: NOW) as door:
        yield door


def test_planned_prices_that_take_over_later_are_told_when_others_are_applied(shop: Door) -> None:
    assert change(shop, DEARER_WORK).status_code == 201
    planned = apply(shop, repriced(shop, skus=["HP-W", "HP-M"])["id"], effective_from=MONDAY)
    assert (planned["overruled"], planned["overruled_by"]) == (0, [])
    assert change(shop, STILL_DEARER, based_on=2).status_code == 201
    done = apply(shop, repriced(shop)["id"], **{"except": ["HP-M"]})
    (change_of_monday,) = listing_of(shop, "HP-W")["planned"]
    assert done["overruled"] == 1
    assert done["overruled_by"] == [
        {"sku": "HP-W", "valid_from": MONDAY, "change": change_of_monday["change"]}
    ]


def test_a_listing_that_was_not_looked_at_may_be_left_out_all_the_same(shop: Door) -> None:
    assert change(shop, DEARER_WORK).status_code == 201
    name = repriced(shop, skus=["HP-W"])["id"]
    answer = applied(shop, name, but=["HP-M"])
    assert (answer.status_code, answer.json()["applied"]) == (200, 1)


def test_a_name_near_to_a_listings_is_told_with_it(shop: Door) -> None:
    answer = applied(shop, repriced(shop, over="all")["id"], but=["HP-w"])
    detail = "there is no listing 'HP-w'; did you mean 'HP-W'?"
    assert answer.json()["errors"] == [{"pointer": "/except", "detail": detail}]


def test_a_change_of_rates_that_touches_no_line_refuses_nothing(shop: Door) -> None:
    assert change(shop, DEARER_WORK).status_code == 201
    name = repriced(shop, skus=["HP-W"])["id"]
    assert change(shop, UNUSED, based_on=2).status_code == 201
    assert applied(shop, name).status_code == 200


def test_a_change_of_what_a_channel_packs_in_touches_its_lines(shop: Door) -> None:
    name = repriced(shop, over="all")["id"]
    answer = shop.ask("GET", "/v1/rates/components/envelope", "cost")
    dearer = {**answer.json()["value"], "offers": [{"pack_quantity": 1, "price": "9.00"}]}
    envelope = {"kind": "components", "code": "envelope", "value": dearer}
    assert change(shop, envelope).status_code == 201
    assert applied(shop, name).status_code == 409

"""What cannot be applied, and why; a call that is sent twice is done once."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, change, refused
from tests.http.door import Door, opened, problem_type
from tests.http.four_pots import IN_SHOP, POT, all_prices, four_pots
from tests.http.offering import LISTINGS, take_away
from tests.http.repriced import (
    REPRICINGS,
    applied,
    apply,
    ask,
    describe,
    finished,
    listed,
    looked_at,
    repriced,
    told,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop with a pot under four skus, each priced."""
    path = four_pots(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        yield door


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


def not_applied(door: Door, name: str) -> str:
    """Check that applying is refused and changes nothing; say why."""
    before, number = all_prices(door), newest(door)
    answer = applied(door, name, max_change_pct=1000)
    assert answer.status_code == 409, answer.text
    assert (all_prices(door), newest(door)) == (before, number)
    kind, faults = refused(answer)
    return f"{kind}: {'; '.join(detail for _, detail in faults)}"


def test_a_repricing_is_applied_once(shop: Door) -> None:
    done = dearer(shop)
    apply(shop, done["id"])
    assert not_applied(shop, done["id"]) == (
        "not-applicable: listings applied it at 2026-12-01T09:00:00+00:00"
    )


def test_proposed_rates_cannot_be_applied(shop: Door) -> None:
    done = repriced(shop, proposed=[LABOUR])
    assert done["is_proposed"] is True
    assert not_applied(shop, done["id"]) == (
        "not-applicable: it was computed with proposed rates; save them, then reprice"
    )
    assert told(shop, done["id"])["state"] == "finished"


def test_after_a_change_of_rates_it_is_made_anew(shop: Door) -> None:
    done = dearer(shop)
    power = {"kind": "shop", "code": "price_per_kwh", "value": "0.40"}
    assert change(shop, power, based_on=2, note="new contract").status_code == 201
    assert not_applied(shop, done["id"]) == (
        "moved-on: revision 3 by rates changes shop/price_per_kwh from 2026-12-01: new contract"
    )
    apply(shop, repriced(shop)["id"])


def test_a_change_of_rates_for_a_later_day_does_not_matter(shop: Door) -> None:
    done = dearer(shop)
    power = {"kind": "shop", "code": "price_per_kwh", "value": "0.40"}
    assert change(shop, power, based_on=2, effective_from=MONDAY).status_code == 201
    assert apply(shop, done["id"])["applied"] == 4


def test_after_a_change_of_a_listing_it_is_made_anew(shop: Door) -> None:
    done = dearer(shop)
    listed(shop, {"sku": "C", **IN_SHOP, "note": "x"})
    assert not_applied(shop, done["id"]) == (
        "moved-on: listing C was changed by listings at 2026-12-01T09:00:00+00:00"
    )


def test_after_a_change_of_a_product_it_is_made_anew(shop: Door) -> None:
    done = dearer(shop, skus=["B"])
    describe(shop, "pot", {**POT, "reject_pct": 2})
    assert not_applied(shop, done["id"]) == (
        "moved-on: listing B has a product that was changed by listings at "
        "2026-12-01T09:00:00+00:00"
    )


def test_after_a_listing_was_taken_away_it_is_made_anew(shop: Door) -> None:
    done = dearer(shop)
    assert take_away(shop, f"{LISTINGS}/D", {"If-Match": '"v1"'}).status_code == 204
    answer = applied(shop, done["id"])
    assert answer.status_code == 409
    (fault,) = answer.json()["errors"]
    assert fault["detail"].startswith("listing D was taken away")


def test_after_another_repricing_was_applied_it_is_made_anew(shop: Door) -> None:
    first, second = dearer(shop), repriced(shop, skus=["A", "B"])
    apply(shop, first["id"], but=["A"])
    assert not_applied(shop, second["id"]) == "moved-on: listing B has got other prices meanwhile"


def test_a_listing_that_was_made_since_does_not_matter(shop: Door) -> None:
    done = dearer(shop)
    listed(shop, {"sku": "E", **IN_SHOP})
    assert apply(shop, done["id"])["applied"] == 4
    assert looked_at(shop) == ["E"]


def test_what_is_no_repricing_is_not_found(shop: Door) -> None:
    answer = applied(shop, "0123456789abcdef")
    assert (answer.status_code, problem_type(answer)) == (404, "unknown-entry")


@pytest.mark.parametrize("key", ["price", "cost", "rates", "operate"])
def test_only_a_key_for_listings_reprices_and_applies(shop: Door, key: str) -> None:
    done = dearer(shop)
    assert applied(shop, done["id"], key=key).status_code == 403
    for method, path in (("POST", REPRICINGS), ("GET", REPRICINGS),
                         ("GET", f"{REPRICINGS}/{done['id']}"),
                         ("GET", f"{REPRICINGS}/{done['id']}/lines")):  # fmt: skip
        sent: dict[str, Any] = {"json": {}} if method == "POST" else {}
        answer = shop.ask(method, path, key, **sent)
        assert (answer.status_code, problem_type(answer)) == (403, "key-may-not")


@pytest.mark.parametrize(
    ("sent", "place"),
    [
        ({"max_change_pct": "-1"}, "/max_change_pct"),
        ({"max_change_pct": "x"}, "/max_change_pct"),
        ({"effective_from": "monday"}, "/effective_from"),
        ({"except": "A"}, "/except"),
        ({"confirm": [1]}, "/confirm/0"),
        ({"but": []}, None),
        ({"prices": {}}, "/prices"),
    ],
)
def test_what_cannot_be_read_is_refused(shop: Door, sent: dict[str, Any], place: str) -> None:
    done = repriced(shop, over="all")
    path = f"{REPRICINGS}/{done['id']}/apply"
    answer = shop.ask("POST", path, "listings", json=sent)
    assert answer.status_code == 422
    assert [fault[0] for fault in refused(answer)[1]] == [place or "/but"]


# Sent twice.


def test_applying_that_is_sent_again_under_its_word_gets_the_same_answer(shop: Door) -> None:
    done = dearer(shop)
    first = applied(shop, done["id"], word="w1")
    again = applied(shop, done["id"], word="w1")
    assert (first.status_code, again.status_code) == (200, 200)
    assert again.json() == first.json()
    assert newest(shop) == 8
    other = applied(shop, done["id"], word="w1", note="x")
    assert (other.status_code, problem_type(other)) == (422, "other-body")
    assert problem_type(applied(shop, done["id"], word="w2")) == "not-applicable"


def test_a_refusal_is_not_kept_under_its_word(shop: Door) -> None:
    done = dearer(shop, "150")
    assert problem_type(applied(shop, done["id"], word="w1")) == "needs-confirming"
    assert problem_type(applied(shop, done["id"], word="w1")) == "needs-confirming"
    assert applied(shop, done["id"], word="w1", max_change_pct=1000).status_code == 200


def test_a_repricing_that_is_asked_for_again_under_its_word_is_made_once(shop: Door) -> None:
    first = ask(shop, "w1", over="all")
    name = finished(shop, first)["id"]
    again = ask(shop, "w1", over="all")
    assert (again.status_code, again.json()["id"]) == (201, name)
    assert again.headers["location"] == first.headers["location"] == f"{REPRICINGS}/{name}"
    other = ask(shop, "w1", over="affected")
    assert (other.status_code, problem_type(other)) == (422, "other-body")
    runs = shop.ask("GET", REPRICINGS, "listings").json()["items"]
    assert [each["id"] for each in runs].count(name) == 1
    assert len(runs) == 2

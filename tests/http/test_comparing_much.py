"""Comparisons too large to be answered at once: computed beside the quotes, kept for a day."""

import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec.json import encode

from gramhour.contract.documents import parse_toml
from gramhour_service.comparing.running import run
from gramhour_service.http.settings import Settings
from gramhour_service.repricing.holding import held, lock_of
from gramhour_service.store.comparisons import Row, add_comparison, comparison_of
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store, writing
from tests import demo
from tests.client.demand import MANY_WAYS
from tests.http.asking import change, plain
from tests.http.door import NOW, Door, opened, problem_of, secret

ROUTE = "/v1/comparisons"
SENT: dict[str, Any] = plain(MANY_WAYS)
FEWER = {**SENT, "up_to": 100}
SHEET: dict[str, Any] = plain(parse_toml(demo.SHEET.read_bytes()))
NAME = "0123456789abcdef"


def row(**more: Any) -> Row:
    """A comparison that nobody computes."""
    sent = {"asked": b"{}", "channel": "market", "asked_at": NOW.isoformat(), "asked_by": "x"}
    rates: dict[str, Any] = {"rates_revision": 1, "rates_on": "2026-12-01", "evaluations": 9}
    return Row(**{"id": NAME, **sent, **rates, **more})


def added(path: Path, new: Row) -> None:
    store = open_store(path)
    with writing(store):
        add_comparison(store, new)
    store.close()


def ended(door: Door, location: str) -> Any:
    while True:
        told = door.ask("GET", location, "cost").json()
        if told["state"] != "running":
            return told
        time.sleep(0.05)


def test_a_large_one_is_begun_and_told_where_it_is(own_shop: Door) -> None:
    answer = own_shop.ask("POST", ROUTE, "cost", json=SENT)
    assert answer.status_code == 202
    told = answer.json()
    assert answer.headers["location"] == f"{ROUTE}/{told['id']}"
    assert (told["state"], told["of"], told["asked_by"]) == ("running", 22_134, "cost")
    found = ended(own_shop, answer.headers["location"])
    assert (found["state"], found["done"]) == ("finished", found["of"])
    few = own_shop.ask("POST", ROUTE, "cost", json=FEWER).json()
    whole = found["comparison"]
    assert {**whole, "intervals": []} == {**few, "intervals": []}
    assert whole["intervals"][-1]["to_quantity"] == 2_000
    up_to = [each for each in whole["intervals"] if each["to_quantity"] <= 100]
    assert up_to == few["intervals"][: len(up_to)]
    assert len(up_to) >= 3


def test_its_rates_are_those_of_when_it_was_asked(own_path: Path, own_shop: Door) -> None:
    expected = own_shop.ask("POST", ROUTE, "cost", json=FEWER).json()
    dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "99"}
    added(own_path, row(asked=encode(FEWER), evaluations=1_122))
    assert change(own_shop, dearer).status_code == 201
    run(own_path, NAME)
    assert own_shop.ask("GET", f"{ROUTE}/{NAME}", "cost").json()["comparison"] == expected


def test_its_ready_dates_stand_behind_the_workload_of_when_it_was_asked(own_shop: Door) -> None:
    def put(hours: int, tag: str) -> None:
        queue = {"machines": {"small-1": {"queue_h": [hours]}}}
        headers = {"If-Match": tag}
        answer = own_shop.ask("PUT", "/v1/workload", "listings", json=queue, headers=headers)
        assert answer.status_code == 200

    put(200, '"w0"')
    few = own_shop.ask("POST", ROUTE, "cost", json=FEWER).json()
    answer = own_shop.ask("POST", ROUTE, "cost", json=SENT)
    put(1, '"w1"')
    found = ended(own_shop, answer.headers["location"])
    assert found["comparison"]["alternatives"] == few["alternatives"]


def test_what_has_no_price_after_all_is_told_as_failed(own_path: Path, own_shop: Door) -> None:
    added(own_path, row(asked=encode({**FEWER, "aim": {"margin_pct": "99.9"}})))
    run(own_path, NAME)
    told = own_shop.ask("GET", f"{ROUTE}/{NAME}", "cost").json()
    assert told["state"] == "failed"
    assert "'0.4 mm, as today' at 60" in told["says"]


def test_one_that_nobody_computes_any_more_is_broken_off(own_path: Path, own_shop: Door) -> None:
    added(own_path, row(done=4))
    with held(own_path, NAME):
        told = own_shop.ask("GET", f"{ROUTE}/{NAME}", "cost").json()
        assert (told["state"], told["done"], told["of"]) == ("running", 4, 9)
    lock_of(own_path, NAME).unlink()
    told = own_shop.ask("GET", f"{ROUTE}/{NAME}", "cost").json()
    assert told["state"] == "broken_off"
    assert told["says"] == "the process that computed it was ended; ask again"


def test_at_most_two_are_computed_at_once(own_path: Path, own_shop: Door) -> None:
    added(own_path, row(id="1" * 16))
    added(own_path, row(id="2" * 16))
    with held(own_path, "1" * 16), held(own_path, "2" * 16):
        refused = own_shop.ask("POST", ROUTE, "cost", json=SENT)
        assert problem_of(refused)[0] == "too-many-requests"
        assert own_shop.ask("POST", ROUTE, "cost", json=FEWER).status_code == 200


@pytest.fixture
def later(own_path: Path) -> Iterator[Door]:
    with opened(Settings(store=own_path), lambda: NOW + timedelta(days=1, seconds=1)) as door:
        yield door


def test_they_are_kept_for_a_day(own_path: Path, later: Door) -> None:
    added(own_path, row())
    answer = later.ask("POST", ROUTE, "cost", json=SENT)
    assert answer.status_code == 202
    gone = later.ask("GET", f"{ROUTE}/{NAME}", "cost")
    assert problem_of(gone)[0] == "unknown-entry"
    assert ended(later, answer.headers["location"])["state"] == "finished"


def test_a_key_of_other_channels_does_not_see_it(own_path: Path, own_shop: Door) -> None:
    store = open_store(own_path)
    for name, channels in (("here", ["market"]), ("there", ["trade"])):
        add_key(store, name, secret(name), ["cost"], now=NOW, channels=channels)
    store.close()
    added(own_path, row())
    assert own_shop.ask("GET", f"{ROUTE}/{NAME}", "here").status_code == 200
    assert problem_of(own_shop.ask("GET", f"{ROUTE}/{NAME}", "there"))[0] == "unknown-entry"
    assert problem_of(own_shop.ask("POST", ROUTE, "there", json=SENT))[0] == "key-may-not"


def test_without_a_store_what_is_too_much_is_refused_with_the_limit() -> None:
    with opened(Settings(store=None)) as door:
        sent = {**SENT, "rates": SHEET}
        kind, faults = problem_of(door.ask("POST", ROUTE, json=sent))
        assert kind == "invalid-request"
        assert [fault["pointer"] for fault in faults] == ["/up_to"]
        assert "at most 20000 are made" in faults[0]["detail"]
        assert door.ask("POST", ROUTE, json={**sent, "up_to": 10}).status_code == 200


def test_one_that_brings_its_own_rates_is_computed_by_them(own_path: Path, own_shop: Door) -> None:
    sent = {**SENT, "rates": SHEET | {"labour_rate_per_hour": "0"}}
    answer = own_shop.ask("POST", ROUTE, "cost", json=sent)
    found = ended(own_shop, answer.headers["location"])
    assert "rates_revision" not in found["comparison"]
    few = own_shop.ask("POST", ROUTE, "cost", json={**sent, "up_to": 9}).json()
    assert found["comparison"]["alternatives"] == few["alternatives"]
    store = open_store(own_path)
    kept = comparison_of(store, found["id"])
    store.close()
    assert kept is not None
    assert datetime.fromisoformat(kept.asked_at) == NOW

"""GET and PUT /v1/workload, and the lead times that begin behind it."""

from datetime import timedelta
from json import dumps
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from gramhour_service.http.settings import Settings
from tests import demo
from tests.http.asking import refused
from tests.http.door import JSON, NOW, Door, add_keys, opened

WORKLOAD, QUOTES = "/v1/workload", "/v1/quotes"
PLANTER: Any = msgspec.json.decode(msgspec.json.encode(demo.request("herb-planter")))
BUSY = {"large": {"queue_h": ["40.5"]}, "small-2": {"queue_h": ["12"]}}
EMPTY = '"w0"'


def put(
    door: Door, machines: Any, tag: str | None = EMPTY, key: str = "listings"
) -> httpx.Response:
    headers = {"Content-Type": JSON} | ({} if tag is None else {"If-Match": tag})
    return door.ask("PUT", WORKLOAD, key, content=dumps({"machines": machines}), headers=headers)


def quoted(door: Door, **changes: Any) -> Any:
    answer = door.ask("POST", QUOTES, "cost", json=PLANTER | changes)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_at_first_there_is_none_and_every_machine_is_free(shop: Door) -> None:
    answer = shop.ask("GET", WORKLOAD, "cost")
    assert (answer.json(), answer.headers["etag"]) == ({"version": 0, "machines": {}}, EMPTY)
    assert answer.headers["cache-control"] == "no-store"
    assert quoted(shop)["lead_time"]["workload"] == {"machines": {}}


def test_what_is_put_is_read_with_who_put_it_and_when(own_shop: Door) -> None:
    answer = put(own_shop, BUSY)
    assert answer.status_code == 200, answer.text
    assert answer.json() == {
        "version": 1, "changed_at": "2026-12-01T09:00:00Z", "changed_by": "listings",
        "machines": BUSY,
    }  # fmt: skip
    read = own_shop.ask("GET", WORKLOAD, "cost")
    assert (read.content, read.headers["etag"]) == (answer.content, answer.headers["etag"])
    known = own_shop.ask("GET", WORKLOAD, "cost", headers={"If-None-Match": '"w1"'})
    assert (known.status_code, known.content) == (304, b"")


def test_lead_times_of_quotes_and_batches_begin_behind_it(own_shop: Door) -> None:
    before = quoted(own_shop)
    put(own_shop, BUSY)
    after = quoted(own_shop)
    assert after["lead_time"]["workload"] == {"machines": BUSY}
    assert after["lead_time"]["ready_on"] > before["lead_time"]["ready_on"]
    assert {**after, "lead_time": 0} == {**before, "lead_time": 0}
    batch = own_shop.ask("POST", f"{QUOTES}/batch", "cost", json={"requests": [PLANTER]})
    assert batch.json()["answers"][0]["quote"] == after
    price = own_shop.ask("POST", f"{QUOTES}?view=price", "cost", json=PLANTER).json()
    assert price["lead_time"] == {"ready_on": after["lead_time"]["ready_on"]}


def test_a_request_may_name_another_workload_and_its_instant(own_shop: Door) -> None:
    free = quoted(own_shop, **{"from": "2026-12-01T09:00:00Z"})
    put(own_shop, BUSY)
    assert quoted(own_shop, workload={"machines": {}})["lead_time"] == free["lead_time"]
    later = quoted(own_shop, **{"from": "2026-12-14T09:00:00+01:00"})["lead_time"]
    assert (later["from"], later["ready_on"] > "2026-12-24") == ("2026-12-14T09:00:00+01:00", True)


def test_the_stored_workload_says_nothing_of_rates_that_are_brought(own_shop: Door) -> None:
    put(own_shop, BUSY)
    rates = own_shop.ask("GET", "/v1/rates", "cost").json()["rates"]
    assert quoted(own_shop, rates=rates)["lead_time"]["workload"] == {"machines": {}}


def test_an_override_of_hours_is_scheduled_behind_the_stored_workload(own_shop: Door) -> None:
    put(own_shop, BUSY)
    hours = {"staffed_hours": {"saturday": ["00:00-24:00"]}}
    told = quoted(own_shop, rate_overrides=hours)["lead_time"]
    assert told["workload"] == {"machines": BUSY}
    assert told["ready_at"].startswith("2026-12-26")  # a Saturday, and not a closed day


def test_a_lead_time_counts_from_now(own_path: Path) -> None:
    now = NOW
    with opened(Settings(store=own_path), lambda: now) as door:
        first = quoted(door)["lead_time"]
        now = NOW + timedelta(days=7)
        second = quoted(door)["lead_time"]
    assert (first["from"], second["from"]) == (
        "2026-12-01T10:00:00+01:00",
        "2026-12-08T10:00:00+01:00",
    )
    assert first["ready_on"] < second["ready_on"]


def test_what_cannot_be_scheduled_is_null_with_a_reason_for_the_shop_alone(shop: Door) -> None:
    sent = PLANTER | {"quantity": 100_000}
    cost = shop.ask("POST", QUOTES, "cost", json=sent).json()
    assert cost["lead_time"] is None
    assert "starts of builds" in cost["no_lead_time"]
    price = shop.ask("POST", f"{QUOTES}?view=price", "cost", json=sent).json()
    assert price["lead_time"] is None
    assert "no_lead_time" not in price


def test_who_has_not_seen_the_latest_is_told_what_it_is(own_shop: Door) -> None:
    put(own_shop, BUSY)
    kind, ((_, detail),) = refused(put(own_shop, {}))
    assert kind == "precondition-failed"
    assert detail == 'it is "w1" by now, put 2026-12-01 09:00:00+00:00 by listings'
    assert put(own_shop, {}, '"w1"').json()["version"] == 2
    kind, ((_, detail),) = refused(put(own_shop, BUSY, '"w1"'))
    assert (kind, detail.startswith('it is "w2" by now')) == ("precondition-failed", True)


def test_a_put_of_what_is_so_already_is_answered_whatever_the_tag(own_shop: Door) -> None:
    first = put(own_shop, BUSY)
    again = put(own_shop, {"small-2": {"queue_h": [12]}, "large": {"queue_h": [40.5]}}, '"w9"')
    assert (again.status_code, again.content) == (200, first.content)
    assert put(own_shop, {"large": {"queue_h": ["40.50"]}, **BUSY}).content == first.content


@pytest.mark.parametrize("tag", [None, "*"])
def test_a_put_says_what_it_has_seen(own_shop: Door, tag: str | None) -> None:
    assert refused(put(own_shop, BUSY, tag))[0] == "precondition-needed"


def test_every_fault_is_told(own_shop: Door) -> None:
    machines = {
        "lage": {"queue_h": [1]},
        "large": {"queue_h": ["x", -1, 100_001]},
        "small-1": {"queue": []},
        "small-2": {"queue_h": 3},
    }
    kind, faults = refused(put(own_shop, machines))
    assert kind == "invalid-request"
    assert [place for place, _ in faults] == [
        "/machines/lage",
        "/machines/large/queue_h/0",
        "/machines/large/queue_h/1",
        "/machines/large/queue_h/2",
        "/machines/small-1/queue",
        "/machines/small-1/queue_h",
        "/machines/small-2/queue_h",
    ]
    assert "did you mean 'large'" in faults[0][1]


def test_there_are_no_more_queues_than_equal_machines(own_shop: Door) -> None:
    kind, faults = refused(
        put(own_shop, {"large": {"queue_h": [0, 1]}, "small-1": {"queue_h": []}})
    )
    assert (kind, faults) == (
        "invalid-request",
        [("/machines/large/queue_h", "has 2 entries, and the sheet 1 such machines")],
    )


def test_without_rates_no_machine_can_be_named(tmp_path: Path) -> None:
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        assert refused(put(door, BUSY))[0] == "invalid-request"
        assert put(door, {}).json() == {"version": 0, "machines": {}}


@pytest.mark.parametrize("key", ["price", "cost", "rates", "operate"])
def test_only_who_keeps_listings_may_put_it(own_shop: Door, key: str) -> None:
    assert refused(put(own_shop, BUSY, key=key))[0] == "key-may-not"

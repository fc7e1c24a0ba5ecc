"""Ways to make a product compared by the client; large comparisons are waited for."""

import asyncio
import pickle
from typing import Any

import msgspec
import pytest

from gramhour import AsyncClient, Client, Comparison, GramhourError, NotCompared
from tests import demo
from tests.client.demand import MANY_WAYS, NOZZLES, now
from tests.client.misbehaving import misbehaving, says


def a_run(state: str, done: int, **more: Any) -> bytes:
    told = {"id": "0123456789abcdef", "state": state, "done": done, "of": 9}
    asked = {"asked_at": "2026-12-01T09:30:00Z", "asked_by": "x"}
    return msgspec.json.encode({**told, **asked, **more})


def test_a_large_comparison_is_waited_for_by_both_clients() -> None:
    async def ask() -> Comparison:
        async with AsyncClient.local(rates=demo.SHEET, now=now) as client:
            return await client.compare(MANY_WAYS)

    with Client.local(rates=demo.SHEET, now=now) as client:
        found = client.compare(MANY_WAYS)
        few = client.compare({**MANY_WAYS, "up_to": 1})
    assert found.alternatives == few.alternatives
    assert isinstance(found.intervals, list)
    assert found.intervals[-1].to_quantity == 2_000
    assert asyncio.run(ask()) == found


def test_it_is_looked_at_ever_less_often_until_it_is_there() -> None:
    with Client.local(rates=demo.SHEET, now=now) as shop:
        there = shop.compare(NOZZLES)
    waits = list[float]()
    turns = [says(a_run("running", n)) for n in range(3)]
    whole = says(a_run("finished", 9, comparison=there))
    with (
        misbehaving(*turns, whole) as server,
        Client(url=server.url, sleep=waits.append) as client,
    ):
        assert client.compare({}) == there
        asked = [(each.method, each.path) for each in server.asked]
    assert asked[0] == ("POST", "/v1/comparisons")
    assert asked[1:] == [("GET", "/v1/comparisons/0123456789abcdef")] * 3
    assert waits == pytest.approx([0.1, 0.15, 0.225])


@pytest.mark.parametrize(
    ("end", "within", "message"),
    [
        (a_run("failed", 3, says="no price"), 600, "failed, 3 of 9 done: no price"),
        (a_run("broken_off", 4), 600, "broken off, 4 of 9 done"),
        (a_run("running", 5), 0, "running, 5 of 9 done"),
        (a_run("resting", 6), 0, "resting, 6 of 9 done"),
    ],
    ids=["failed", "broken off", "not in time", "in an unknown state"],
)
def test_one_without_a_result_is_an_error_that_says_how_it_is(
    end: bytes, within: float, message: str
) -> None:
    with (
        misbehaving(says(end)) as server,
        Client(url=server.url) as client,
        pytest.raises(NotCompared, match=message) as raised,
    ):
        client.compare({}, within=within)
    assert isinstance(raised.value, GramhourError)
    assert raised.value.run.id == "0123456789abcdef"
    again = pickle.loads(pickle.dumps(raised.value))
    assert (type(again), str(again)) == (NotCompared, str(raised.value))

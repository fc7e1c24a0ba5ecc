"""Waiting for a repricing: how often it is looked at, and what is raised when it has no result."""

import asyncio
import os
import pickle
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import msgspec
import pytest

from gramhour import (
    AsyncClient,
    Client,
    GramhourError,
    NotFinished,
    Repricing,
    RepricingBrokenOff,
    RepricingFailed,
    StillRunning,
)
from gramhour.watching import watched
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests.client.demand import now
from tests.client.listed import LISTING, PRODUCT
from tests.client.misbehaving import Turn, misbehaving, says
from tests.client.running import a_store, running


def a_repricing(state: str, done: int, **more: Any) -> bytes:
    told = {"id": "0123456789abcdef", "state": state, "done": done, "of": 9, "counts": {}}
    rates = {"rates_revision": 1, "rates_on": "2026-12-01", "is_proposed": False, "note": ""}
    asked = {"asked_at": "2026-12-01T09:30:00Z", "asked_by": "x"}
    return msgspec.json.encode({**told, **rates, **asked, **more})


@pytest.mark.parametrize(
    ("ends", "error", "message"),
    [
        (
            a_repricing("failed", 3, says="the disk is full"),
            RepricingFailed,
            "repricing 0123456789abcdef: failed, 3 of 9 done: the disk is full",
        ),
        (a_repricing("broken_off", 4), RepricingBrokenOff, "broken off, 4 of 9 done"),
    ],
)
def test_waiting_ends_with_an_error_of_its_own_when_there_is_no_result(
    ends: bytes, error: type[NotFinished], message: str
) -> None:
    looks, waits = list[int](), list[float]()
    turns: list[Turn] = [says(a_repricing("running", n)) for n in range(3)]
    with misbehaving(*turns, says(ends)) as server:
        client = Client(url=server.url, sleep=waits.append)
        with pytest.raises(error, match=message) as raised:
            client.wait_for("0123456789abcdef", told=lambda now: looks.append(now.done))
        client.close()
    assert raised.value.repricing.done == looks[-1]
    assert looks[:3] == [0, 1, 2]
    assert waits == pytest.approx([0.1, 0.15, 0.225])
    assert isinstance(raised.value, GramhourError)
    again = pickle.loads(pickle.dumps(raised.value))
    assert (type(again), str(again)) == (error, str(raised.value))


def test_waiting_has_a_deadline_and_an_unknown_state_is_waited_for() -> None:
    with misbehaving(says(a_repricing("running", 1)), says(a_repricing("resting", 2))) as server:
        client = Client(url=server.url, sleep=lambda _: None)
        with pytest.raises(StillRunning, match="running, 1 of 9 done"):
            client.wait_for("0123456789abcdef", within=0)
        with pytest.raises(StillRunning, match="resting, 2 of 9 done"):
            client.wait_for("0123456789abcdef", within=0)
        client.close()


def test_looks_come_ever_more_seldom_but_not_beyond_two_seconds() -> None:
    looks = watched(600, None)
    next(looks)
    running = msgspec.json.decode(a_repricing("running", 1), type=Repricing)
    waits = [looks.send(running) for _ in range(12)]
    assert waits == sorted(waits)
    assert (waits[0], waits[-1]) == (0.1, 2.0)


def test_a_run_that_is_killed_is_told_as_broken_off_and_nothing_is_lost(tmp_path: Path) -> None:
    store, key = a_store(tmp_path / "store"), "a-key-for-listings"
    with closing(open_store(store)) as opened:
        add_key(opened, "listings", key, ["listings"], now=now())
    with (
        running(store, tmp_path / "asked") as service,
        Client(url=service.url, key=key) as client,
        ThreadPoolExecutor(1) as threads,
    ):
        client.put_product("herb-planter", PRODUCT, new=True)
        client.put_listings([{"sku": f"HP-{n}", **LISTING} for n in range(300)])
        asked = threads.submit(client.reprice)
        while not (runs := _runs_on(store)):
            time.sleep(0.005)
        for pid in runs:
            os.kill(pid, signal.SIGKILL)
        with pytest.raises(RepricingBrokenOff, match="make a new one"):
            client.wait_for(asked.result().id, within=5)
        assert client.repricing(asked.result().id).state == "broken_off"
        again = client.wait_for(client.reprice().id)
        assert client.apply(again.id).applied == 300


def _runs_on(store: Path) -> list[int]:
    """Name the processes that compute a repricing of a store."""
    found = list[int]()
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            said = (folder / "cmdline").read_bytes().split(b"\0")
            if b"gramhour_service.repricing" in said and str(store).encode() in said:
                found.append(int(folder.name))
    return found


def test_the_asynchronous_client_raises_the_same_errors() -> None:
    async def ask(url: str) -> None:
        async with AsyncClient(url=url) as client:
            await client.wait_for("0123456789abcdef")

    with (
        misbehaving(says(a_repricing("broken_off", 4))) as server,
        pytest.raises(RepricingBrokenOff),
    ):
        asyncio.run(ask(server.url))

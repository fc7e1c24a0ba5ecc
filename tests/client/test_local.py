"""The calculation in this process: with a store, with a sheet, and without the service."""

import asyncio
import gc
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from gramhour import AsyncClient, Client, RateSheet, Refusal, Unreachable
from gramhour.local import InProcess
from gramhour_service.http.local import open_local
from tests import demo
from tests.client.demand import PLANTER, now
from tests.client.rows import requests
from tests.client.running import a_store
from tests.forked import Forked

PRICE = "26.90"


def price_of(client: Client) -> str:
    return str(client.quote(PLANTER).at_quantity.unit_price)


@pytest.mark.parametrize(
    "rates",
    [
        pytest.param(demo.SHEET, id="path"),
        pytest.param(str(demo.SHEET), id="path as text"),
        pytest.param(demo.sheet(), id="RateSheet"),
        pytest.param(msgspec.to_builtins(demo.sheet()), id="dict"),
    ],
)
def test_a_sheet_can_be_given_in_any_form(rates: Any) -> None:
    with Client.local(rates=rates, now=now) as client:
        assert price_of(client) == PRICE


def test_a_sheet_can_be_a_file_of_json(tmp_path: Path) -> None:
    file = tmp_path / "sheet.json"
    file.write_bytes(msgspec.json.encode(demo.sheet()))
    with Client.local(rates=file, now=now) as client:
        assert price_of(client) == PRICE


def test_a_store_needs_no_key_when_its_file_is_at_hand(tmp_path: Path) -> None:
    with Client.local(store=a_store(tmp_path / "store")) as client:
        assert price_of(client) == PRICE
        assert client.health().rates == "stored"


def test_requests_can_bring_their_own_rates_to_no_store() -> None:
    with Client.local() as client:
        assert client.health().rates == "none"
        assert client.quote(PLANTER | {"rates": demo.sheet()}).at_quantity.unit_price


def test_an_asynchronous_client_answers_in_its_callers_loop(tmp_path: Path) -> None:
    store = a_store(tmp_path / "store")

    async def ask() -> str:
        async with AsyncClient.local(store=store) as client:
            return str((await client.quote(PLANTER)).at_quantity.unit_price)

    assert asyncio.run(ask()) == PRICE


def test_it_works_where_a_loop_runs_already_and_from_many_threads(shop: Client) -> None:
    async def ask() -> str:
        return price_of(shop)

    assert asyncio.run(ask()) == PRICE
    with ThreadPoolExecutor(8) as threads:
        assert set(threads.map(lambda _: price_of(shop), range(40))) == {PRICE}


WRONG = msgspec.to_builtins(demo.sheet()) | {"currency": "EUX"}


@pytest.mark.parametrize("rates", [WRONG, msgspec.convert(WRONG, RateSheet)], ids=["dict", "type"])
def test_what_is_wrong_with_a_sheet_is_told_beside_it(rates: Any) -> None:
    with pytest.raises(Refusal) as refused:
        Client.local(rates=rates)
    assert refused.value.type == "invalid-rates"
    assert '/currency: "EUX"\n' in refused.value.beside_request()


def test_what_is_wrong_with_a_file_of_rates_is_told(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_text("currency = 'EUR'\nlabour_rate_per_hour = 24,50\n")
    with pytest.raises(Refusal, match=r"malformed-document.*write 24\.50"):
        Client.local(rates=file)


def test_a_store_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"there is no store at .*nowhere"):
        Client.local(store=tmp_path / "nowhere")


def test_store_and_rates_exclude_each_other(tmp_path: Path) -> None:
    with pytest.raises(TypeError, match="exclude each other"):
        Client.local(store=tmp_path, rates=demo.SHEET)


@pytest.mark.parametrize("name", ["nowhere.toml", ".", "nowhere.json"])
def test_a_file_of_rates_that_cannot_be_read_is_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(Refusal, match=r"malformed-document: /: the file .* cannot be read"):
        Client.local(rates=tmp_path / name)


@pytest.mark.parametrize("rates", [{"currency": object()}, {1: 2}], ids=["value", "key"])
def test_a_dict_of_things_that_no_sheet_has_is_refused(rates: Any) -> None:
    with pytest.raises(Refusal) as refused:
        Client.local(rates=rates)
    assert refused.value.beside_request()


def test_a_client_closed_in_the_midst_of_calls_ends_them() -> None:
    client, ends = Client.local(rates=demo.SHEET), list[str]()

    def ask() -> None:
        try:
            list(client.quote_many(requests(20_000), batch_size=1000))
        except Unreachable as error:
            ends.append(str(error))

    thread = threading.Thread(target=ask, daemon=True)
    thread.start()
    time.sleep(0.3)
    client.close()
    thread.join(30)
    assert len(ends) == 1
    assert "the client is closed" in ends[0]


def left() -> tuple[set[threading.Thread], int]:
    """Say what could be left behind: threads, and what the process has open."""
    gc.collect()
    return set(threading.enumerate()), len(list(Path("/proc/self/fd").iterdir()))


def close_and_leave_nothing(folder: Path) -> None:
    tempfile.tempdir = str(folder)
    before = left()
    client = Client.local(rates=demo.SHEET)
    assert price_of(client) == PRICE
    assert list(folder.iterdir())
    client.close()
    client.close()
    assert left() == before
    with pytest.raises(Refusal):
        Client.local(rates={})
    assert left() == before
    assert not list(folder.iterdir())


def drop_and_leave_nothing(_: Path) -> None:
    before = left()
    client = Client.local(rates=demo.SHEET)
    (thread,) = left()[0] - before[0]
    assert thread.daemon
    del client
    gc.collect()
    thread.join(10)
    assert left() == before


@pytest.mark.parametrize("does", [close_and_leave_nothing, drop_and_leave_nothing])
def test_nothing_is_left_behind(does: Callable[[Path], None], tmp_path: Path) -> None:
    # In a process of its own: here clients of other tests begin and end threads of theirs.
    assert Forked(does, tmp_path).wait(60) == 0


FORKED = """
import os
from gramhour import Client, Unreachable

client = Client.local()
pid = os.fork()
if pid == 0:
    try:
        client.health()
    except Unreachable as error:
        client.close()
        os._exit(7 if "fork" in str(error) else 1)
    os._exit(1)
assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 7
client.close()
"""


def test_in_a_fork_it_says_that_it_cannot_be_used_there() -> None:
    subprocess.run([sys.executable, "-c", FORKED], check=True, timeout=60)


def test_a_close_that_fails_is_told_and_ends_the_thread_all_the_same() -> None:
    opened = open_local(None, None, now)
    assert not isinstance(opened, msgspec.Struct)

    def fail() -> None:
        opened.close()
        raise LookupError("no")

    before = left()[0]
    failing: Any = replace(opened, close=fail)
    transport = InProcess(lambda: failing)
    with pytest.raises(LookupError, match="no"):
        transport.close()
    assert left()[0] == before


@pytest.mark.parametrize("key", [None, "guessed", ""])
def test_the_application_in_process_lets_nobody_in_without_its_own_key(key: str | None) -> None:
    opened = open_local(None, demo.SHEET, now)
    assert not isinstance(opened, msgspec.Struct)

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(opened.app)  # type: ignore[arg-type]
        headers = {} if key is None else {"Authorization": f"Bearer {key}"}
        async with httpx.AsyncClient(transport=transport, base_url="http://shop.test") as client:
            return await client.post("/v1/quotes", json={}, headers=headers)

    assert asyncio.run(ask()).status_code == 401
    opened.close()


def test_each_application_in_process_has_another_key() -> None:
    keys = set()
    for _ in range(3):
        opened = open_local(None, None, now)
        assert not isinstance(opened, msgspec.Struct)
        keys.add(opened.key)
        opened.close()
    assert len(keys) == 3
    assert min(map(len, keys)) >= 43  # 256 bits in base 64


def test_without_the_service_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "gramhour_service.http.local", None)
    for local in (Client.local, AsyncClient.local):
        with pytest.raises(Unreachable, match="install gramhour-service beside gramhour"):
            local(rates=demo.SHEET)

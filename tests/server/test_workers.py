"""Several workers are one service: the same answers, never an older sheet, each key at once."""

import os
import signal
import socket
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import NamedTuple

import msgspec
import pytest
import uvicorn

from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.http.workers import Worker
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests import demo
from tests.http.door import HERE, NOW, secret
from tests.server.running import (
    QUOTE,
    Service,
    ask,
    command,
    demo_store,
    serving,
    take_in,
    wait_until,
)
from tests.store.shops import sheet

CALLERS = 50
WORKERS = 4
IMPORTS = 200
AT_ONCE = 8
MOST_ROUNDS = 500


class Two(NamedTuple):
    """A service of two workers, and its store."""

    service: Service
    store: Path


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    store = demo_store(tmp_path_factory.mktemp("two") / "gramhour.sqlite")
    with serving(store, "--workers", "2") as service:
        yield Two(service, store)


def test_two_workers_answer_fifty_callers_at_once_as_the_calculation_does(two: Two) -> None:
    expected = msgspec.json.encode(answer_quote(parse_json(QUOTE), demo.sheet(), revision=1))
    with ThreadPoolExecutor(CALLERS) as callers:
        asked = [
            callers.submit(two.service.ask, "POST", "/v1/quotes", "cost", body=QUOTE)
            for _ in range(4 * CALLERS)
        ]
    answers = [each.result() for each in asked]
    assert Counter(answer.status for answer in answers) == {200: 4 * CALLERS}
    assert {answer.body for answer in answers} == {expected}
    assert len({answer.worker for answer in answers}) == 2


def read_by_each(
    service: Service, askers: ThreadPoolExecutor, workers: set[str]
) -> dict[str, tuple[int, str]]:
    """Ask on new connections, several at once, until all workers have told their sheet."""
    told: dict[str, tuple[int, str]] = {}

    def tell(_: int) -> None:
        answer = service.ask("GET", "/v1/rates", "cost")
        assert answer.status == 200, answer.body
        read = msgspec.json.decode(answer.body)
        seen = (read["rates_revision"], read["rates"]["labour_rate_per_hour"])
        assert told.setdefault(answer.worker, seen) == seen

    for _ in range(MOST_ROUNDS):
        list(askers.map(tell, range(AT_ONCE)))
        if told.keys() == workers:
            return told
    raise AssertionError(f"of {workers} only {told.keys()} were reached")


def test_no_worker_tells_an_older_sheet_than_the_one_that_was_taken_in(store: Path) -> None:
    with (
        serving(store, "--workers", str(WORKERS)) as service,
        ThreadPoolExecutor(AT_ONCE) as askers,
    ):
        workers = set(service.to_each_worker(WORKERS))
        first = 2  # the demo's sheet is the first
        for number in range(first, first + IMPORTS):
            taken_in = sheet(f"{number}.5", time_zone=demo.sheet().time_zone)
            assert take_in(store, taken_in) == number
            told = read_by_each(service, askers, workers)
            assert set(told.values()) == {(number, f"{number}.5")}


def statuses(connections: dict[str, list[HTTPConnection]], key: str) -> list[int]:
    """Ask each worker once, on the connection that is open to it."""
    answers = [(name, ask(each, "GET", "/v1/rates", key)) for name, (each,) in connections.items()]
    assert all(answer.worker == name for name, answer in answers if answer.status == 200)
    return [answer.status for _, answer in answers]


def test_a_key_opens_every_worker_once_it_is_added_and_none_once_it_is_revoked(two: Two) -> None:
    connections = two.service.to_each_worker(2)
    assert statuses(connections, "late") == [401, 401]
    with closing(open_store(two.store)) as opened:
        add_key(opened, "late", secret("late"), ["cost"], now=NOW)
    assert statuses(connections, "late") == [200, 200]
    assert command(two.store, "keys", "revoke", "late").exit_code == 0
    assert statuses(connections, "late") == [401, 401]
    assert statuses(connections, "cost") == [200, 200]


def test_a_key_that_the_command_adds_and_prints_opens_at_once(two: Two) -> None:
    key = command(two.store, "keys", "add", "desk", "--scope", "cost").stdout.strip()
    headers = {"Authorization": f"Bearer {key}"}
    for (connection,) in two.service.to_each_worker(2).values():
        assert ask(connection, "POST", "/v1/quotes", body=QUOTE, headers=headers).status == 200
        assert ask(connection, "POST", "/v1/quotes", body=QUOTE).status == 401


def test_that_a_key_was_used_is_told_while_the_service_runs(two: Two) -> None:
    assert two.service.ask("GET", "/v1/rates", "rates").status == 200

    def is_told() -> bool:
        told = msgspec.json.decode(command(two.store, "keys", "list", "--json").stdout)
        return any(key["name"] == "rates" and key["used_at"] for key in told)

    wait_until(is_told)


def test_every_worker_finds_a_store_that_is_made_after_the_start(tmp_path: Path) -> None:
    store = tmp_path / "later" / "gramhour.sqlite"
    with serving(store, "--workers", "2") as service:
        connections = service.to_each_worker(2)
        for (connection,) in connections.values():
            assert msgspec.json.decode(ask(connection, "GET", "/health").body)["rates"] == "none"
            answer = ask(connection, "POST", "/v1/quotes", body=QUOTE)
            told = msgspec.json.decode(answer.body)
            assert (answer.status, told["type"]) == (422, "/problems/no-rates")
        demo_store(store)
        assert statuses(connections, "cost") == [200, 200]
        for (connection,) in connections.values():
            assert msgspec.json.decode(ask(connection, "GET", "/health").body)["rates"] == "stored"
            assert ask(connection, "POST", "/v1/quotes", body=QUOTE).status == 401


def test_a_worker_that_is_killed_is_replaced_and_none_outlives_a_killed_service(
    store: Path,
) -> None:
    with serving(store, "--workers", "2") as service:
        (killed, _), (kept, (to_kept,)) = service.to_each_worker(2).items()
        os.kill(int(killed), signal.SIGKILL)
        assert ask(to_kept, "GET", "/v1/rates", "cost").status == 200
        seen: set[str] = set()

        def is_replaced() -> bool:
            try:
                answer = service.ask("GET", "/v1/rates", "cost")
            except (HTTPException, ConnectionError):  # it was being given to the killed one
                return False
            assert answer.status == 200
            seen.add(answer.worker)
            return len(seen - {killed, kept}) == 1

        wait_until(is_replaced)
        assert ask(to_kept, "GET", "/v1/rates", "cost").worker == kept
        assert killed not in seen
        service.process.kill()
        wait_until(lambda: not is_listening(service))


def is_listening(service: Service) -> bool:
    try:
        socket.create_connection((HERE, service.port)).close()
    except ConnectionRefusedError:
        return False
    return True


def test_a_worker_whose_sign_of_life_is_broken_off_is_not_waited_for() -> None:
    worker = Worker(uvicorn.Config("no:application"), [])

    def breaks_off(_: object) -> None:
        worker.child_conn.send_bytes(b"half a word")

    worker.target = breaks_off  # type: ignore[method-assign, assignment]
    worker.start()
    worker.process.join()
    assert not worker.ping()


def test_a_worker_has_not_loaded_what_only_measuring_and_repricing_need(store: Path) -> None:
    with serving(store, "--workers", "2", loads_itself=True) as service:
        for worker in service.to_each_worker(2):
            loaded = Path(f"/proc/{worker}/maps").read_text()
            found = {name for name in ("msgspec", "numpy", "shapely", "lib3mf") if name in loaded}
            assert found == {"msgspec"}

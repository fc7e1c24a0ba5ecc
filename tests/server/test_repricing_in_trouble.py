"""Runs of repricings that are killed, or whose askers are, and two at once: none is lost unseen."""

import os
import signal
import sqlite3
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, suppress
from http.client import HTTPException
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from msgspec import json

from tests.server.running import Service, serving, wait_until
from tests.server.runs import (
    ALL,
    LISTINGS,
    REPRICINGS,
    Ask,
    by,
    ended,
    halted,
    lines_of,
    make_large_shop,
    problem,
    repriced,
    told,
)

MOST_SECONDS = 5.0
"""How soon a run that broke off must be told."""
ENDED = "was ended; make a new one"


class Served(NamedTuple):
    """A service of two workers, and its store."""

    service: Service
    store: Path


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    store = make_large_shop(tmp_path_factory.mktemp("large") / "gramhour.sqlite")
    # What a killed run leaves to the system is printed.
    with serving(store, "--workers", "2", cuts_off=True) as service:
        yield Served(service, store)


def applied(service: Service, name: str, **sent: object) -> tuple[int, str, str]:
    answer = service.ask("POST", f"{REPRICINGS}/{name}/apply", "listings", body=json.encode(sent))
    return (200, "", "") if answer.status == 200 else problem(answer)


def listed(asks: Ask) -> list[dict[str, Any]]:
    answer = asks("GET", REPRICINGS, "listings")
    assert answer.status == 200, answer.body
    items: list[dict[str, Any]] = json.decode(answer.body)["items"]
    return items


def check_a_new_one_works(service: Service) -> None:
    new = repriced(service, over="all")
    assert new["of"] == LISTINGS
    assert applied(service, new["id"])[0] == 200
    assert told(service.ask, new["id"])["state"] == "applied"


def test_a_run_that_is_killed_is_told_within_seconds_and_cannot_be_applied(served: Served) -> None:
    service, store = served
    with halted(store, service.ask) as run:
        assert told(service.ask, run.name)["state"] == "running"
        run.kill()
        wait_until(lambda: told(service.ask, run.name)["state"] == "broken_off", MOST_SECONDS)
        asked = run.answer.result()
    assert asked.status in (201, 202)
    assert json.decode(asked.body)["id"] == run.name
    found = told(service.ask, run.name)
    assert ENDED in found["says"]
    assert found["done"] < LISTINGS
    assert len(lines_of(service.ask, run.name)) == found["done"]
    status, kind, says = applied(service, run.name)
    assert (status, kind) == (409, "not-applicable")
    assert says == "it is not finished"
    check_a_new_one_works(service)


def test_a_run_fails_in_words_when_a_process_that_computes_for_it_is_killed(served: Served) -> None:
    service, store = served
    with halted(store, service.ask) as run:
        os.kill(run.workers[0], signal.SIGKILL)
        run.go_on()
        found = ended(service.ask, run.name)
        assert (found["state"], found["says"].endswith(ENDED)) == ("failed", True)
        wait_until(run.has_ended)
    status, kind, says = applied(service, run.name)
    assert (status, kind, says) == (409, "not-applicable", found["says"])
    check_a_new_one_works(service)


def test_a_run_goes_on_when_the_worker_that_was_asked_is_killed_and_another_tells_it(
    served: Served,
) -> None:
    service, store = served
    (killed, (to_killed,)), (kept, (to_kept,)) = service.to_each_worker(2).items()
    asks = by(to_kept)
    with halted(store, by(to_killed)) as run:
        os.kill(int(killed), signal.SIGKILL)
        with suppress(HTTPException, ConnectionError):  # unless it was told before
            run.answer.result()
        assert told(asks, run.name)["state"] == "running"
        run.go_on()
        done = [told(asks, run.name)["done"]]
        while (now := told(asks, run.name))["state"] == "running":
            done.append(now["done"])
    assert (now["state"], now["done"], now["of"]) == ("finished", LISTINGS, LISTINGS)
    assert done == sorted(done)
    assert asks("GET", "/health").worker == kept
    assert applied(service, run.name)[0] == 200


def test_a_run_goes_on_when_the_whole_service_is_killed_and_the_next_one_tells_its_end(
    tmp_path: Path,
) -> None:
    store = make_large_shop(tmp_path / "gramhour.sqlite")
    with ExitStack() as stack:
        with serving(store, "--workers", "2") as service:
            run = stack.enter_context(halted(store, service.ask))
            os.killpg(service.process.pid, signal.SIGKILL)
            service.process.wait()
        with serving(store) as service:
            assert told(service.ask, run.name)["state"] == "running"
            run.go_on()
            found = ended(service.ask, run.name)
            assert (found["state"], found["done"]) == ("finished", LISTINGS)
            assert applied(service, run.name)[0] == 200


def test_two_runs_at_once_agree_line_by_line(served: Served) -> None:
    service = served.service
    connections = [each for (each,) in service.to_each_worker(2).values()]
    with ThreadPoolExecutor(2) as askers:
        answers = [
            askers.submit(by(each), "POST", REPRICINGS, "listings", body=ALL)
            for each in connections
        ]
    names = [json.decode(each.result().body)["id"] for each in answers]
    found = [ended(service.ask, name) for name in names]
    assert Counter(each["state"] for each in found) == {"finished": 2}
    one, other = (lines_of(service.ask, name) for name in names)
    assert len(one) == LISTINGS
    assert one == other


def test_a_run_that_goes_on_is_never_told_as_broken_off(served: Served) -> None:
    service, seen = served.service, Counter[str]()
    before = {each["id"] for each in listed(service.ask)}
    connections = [each for (each,) in service.to_each_worker(2).values()]
    with ThreadPoolExecutor(1) as asker:
        runs = asker.submit(
            lambda: [repriced(service, skus=["P0-0"], discount_pct=n) for n in range(1, 9)]
        )
        while not runs.done():
            for connection in connections:
                new = [each for each in listed(by(connection)) if each["id"] not in before]
                seen.update(each["state"] for each in new)
    assert len(runs.result()) == 8
    assert seen.keys() == {"running", "finished"}


def test_the_processes_that_compute_for_a_run_end_with_it(served: Served) -> None:
    with halted(served.store, served.service.ask) as run:
        run.kill()
        wait_until(run.has_ended)


def test_a_run_waits_longer_for_a_locked_store_than_a_caller_does_and_then_goes_on(
    served: Served,
) -> None:
    service, store = served
    with halted(store, service.ask) as run:
        with closing(sqlite3.connect(store, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            run.go_on()
            caller = service.ask("POST", REPRICINGS, "listings", body=ALL)
            assert problem(caller)[:2] == (503, "store-busy")
            assert told(service.ask, run.name)["state"] == "running"
        found = ended(service.ask, run.name)
    assert (found["state"], found["done"]) == ("finished", LISTINGS)

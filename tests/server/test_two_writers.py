"""Two who write at once, through two workers: one wins and the other is told, or both do."""

import sqlite3
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path
from threading import Barrier
from typing import Any, NamedTuple

import msgspec
import pytest

from tests.server.running import QUOTE, Answer, Service, ask, demo_store, serving

LABOUR, POWER = "/v1/rates/shop/labour_rate_per_hour", "/v1/rates/shop/price_per_kwh"
CHANGES = "/v1/rate-changes"
ROUNDS = 30
SECONDS_LOCKED = 1.0
WAITED = 5.0
"""How long a writer waits for another (store/opening.py)."""


class Two(NamedTuple):
    """A service of two workers, a connection to each, and its store."""

    service: Service
    connections: list[HTTPConnection]
    store: Path

    def at_once(self, *calls: tuple[str, str, Any, dict[str, str]]) -> list[Answer]:
        """Make a call to each worker at the same moment."""
        start = Barrier(len(calls))

        def made(connection: HTTPConnection, call: tuple[str, str, Any, dict[str, str]]) -> Answer:
            method, path, body, headers = call
            start.wait()
            sent = msgspec.json.encode(body)
            return ask(connection, method, path, "rates", body=sent, headers=headers)

        with ThreadPoolExecutor(len(calls)) as callers:
            return list(callers.map(made, self.connections, calls))

    def read(self, path: str) -> tuple[Any, str]:
        """Read a rate and its tag."""
        answer = ask(self.connections[0], "GET", path, "cost")
        return msgspec.json.decode(answer.body)["value"], answer.headers["etag"]

    def newest(self) -> int:
        answer = ask(self.connections[1], "GET", "/v1/revisions?limit=1", "cost")
        revision: int = msgspec.json.decode(answer.body)["items"][0]["rates_revision"]
        return revision


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    store = demo_store(tmp_path_factory.mktemp("two") / "gramhour.sqlite")
    # What the store's trouble is, is printed: see the last test.
    with serving(store, "--workers", "2", cuts_off=True) as service:
        connections = [each for (each,) in service.to_each_worker(2).values()]
        yield Two(service, connections, store)


def statuses(answers: list[Answer]) -> list[int]:
    return sorted(answer.status for answer in answers)


def test_of_two_who_change_one_rate_one_wins_and_the_other_is_told_what_changed(two: Two) -> None:
    for number in range(ROUNDS):
        _, tag = two.read(LABOUR)
        before = two.newest()
        values = [f"{40 + number}.{n}" for n in (1, 2)]
        answers = two.at_once(*(("PUT", LABOUR, each, {"If-Match": tag}) for each in values))
        assert statuses(answers) == [200, 412]
        won, lost = sorted(answers, key=lambda answer: answer.status)
        told = msgspec.json.decode(won.body)
        assert two.read(LABOUR) == (told["value"], won.headers["etag"])
        assert told["value"] == values[answers.index(won)]
        assert (two.newest(), told["rates_revision"]) == (before + 1, before + 1)
        (fault,) = msgspec.json.decode(lost.body)["errors"]
        assert f"revision {before + 1} by rates changes" in fault["detail"]


def test_of_two_who_change_two_rates_both_win(two: Two) -> None:
    for number in range(ROUNDS):
        tags, before = [two.read(path)[1] for path in (LABOUR, POWER)], two.newest()
        answers = two.at_once(
            ("PUT", LABOUR, f"{80 + number}", {"If-Match": tags[0]}),
            ("PUT", POWER, f"0.{10 + number}1", {"If-Match": tags[1]}),
        )
        assert statuses(answers) == [200, 200]
        assert [two.read(path)[1] for path in (LABOUR, POWER)] == [
            answer.headers["etag"] for answer in answers
        ]
        told = [msgspec.json.decode(answer.body) for answer in answers]
        assert [each["value"] for each in told] == [f"{80 + number}", f"0.{10 + number}1"]
        assert sorted(each["changed_in"] for each in told) == [before + 1, before + 2]


def changes(value: str, based_on: int) -> dict[str, Any]:
    labour = {"kind": "shop", "code": "labour_rate_per_hour", "value": value}
    return {"changes": [labour], "based_on_revision": based_on}


def test_of_two_changes_based_on_one_revision_one_is_made(two: Two) -> None:
    for number in range(ROUNDS):
        newest = two.newest()
        answers = two.at_once(
            *(("POST", CHANGES, changes(f"{200 + number}.{n}", newest), {}) for n in (1, 2))
        )
        assert statuses(answers) == [201, 409]
        assert two.newest() == newest + 1


def test_one_call_sent_twice_at_once_is_made_once_and_answered_twice(two: Two) -> None:
    for number in range(ROUNDS):
        newest = two.newest()
        call = changes(f"{300 + number}", newest), {"Idempotency-Key": f"round {number}"}
        answers = two.at_once(*(("POST", CHANGES, *call) for _ in range(2)))
        assert [answer.status for answer in answers] == [201, 201]
        assert answers[0].body == answers[1].body
        assert two.newest() == newest + 1


def test_a_writer_waits_for_another_process(two: Two) -> None:
    _, tag = two.read(LABOUR)
    with (
        closing(sqlite3.connect(two.store, isolation_level=None, check_same_thread=False)) as other,
        ThreadPoolExecutor(1) as callers,
    ):
        other.execute("BEGIN IMMEDIATE")
        started = time.monotonic()
        call = ("PUT", LABOUR, "777", {"If-Match": tag})
        waiting = callers.submit(two.at_once, call)
        time.sleep(SECONDS_LOCKED)
        assert not waiting.done()
        other.execute("ROLLBACK")
        (answer,) = waiting.result()
    assert answer.status == 200
    assert SECONDS_LOCKED <= time.monotonic() - started < WAITED
    assert two.read(LABOUR)[0] == "777"


def test_a_writer_that_waited_too_long_is_told_and_others_are_answered_meanwhile(two: Two) -> None:
    (value, tag), newest = two.read(LABOUR), two.newest()
    longest, asked = 0.0, Counter[int]()
    with (
        closing(sqlite3.connect(two.store, isolation_level=None)) as other,
        ThreadPoolExecutor(1) as callers,
    ):
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE access_key SET revoked_at = '' WHERE name = 'nobody'")
        started = time.monotonic()
        calls = [
            ("PUT", LABOUR, "888", {"If-Match": tag}),
            ("POST", CHANGES, changes("889", newest), {"Idempotency-Key": "locked"}),
        ]
        waiting = callers.submit(two.at_once, *calls)
        connections = [each for (each,) in two.service.to_each_worker(2).values()]
        while not waiting.done():
            for connection in connections:
                moment = time.monotonic()
                asked[ask(connection, "POST", "/v1/quotes", "cost", body=QUOTE).status] += 1
                asked[ask(connection, "GET", LABOUR, "cost").status] += 1
                longest = max(longest, time.monotonic() - moment)
        answers = waiting.result()
        taken = time.monotonic() - started
    assert [answer.status for answer in answers] == [503, 503]
    for answer in answers:
        assert msgspec.json.decode(answer.body)["type"] == "/problems/store-busy"
        assert 1 <= int(answer.headers["retry-after"]) <= 60
    assert WAITED * 0.9 <= taken < WAITED * 2
    assert asked.keys() == {200}
    assert asked[200] > 100
    assert longest < WAITED / 5
    assert (two.read(LABOUR)[0], two.newest()) == (value, newest)
    (again,) = two.at_once(calls[1])
    assert again.status == 201
    _, *further = two.service.printed.read_text().splitlines()
    in_words = {line for line in further if not line.startswith("{")}  # the others tell of requests
    assert in_words == {"the store: another process is writing; try again shortly"}

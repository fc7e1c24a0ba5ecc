"""Repricings applied while others apply or save rates: one after the other, each all or none."""

import sqlite3
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from http.client import HTTPConnection
from pathlib import Path
from threading import Barrier
from typing import Any, NamedTuple

import pytest
from msgspec import json

from gramhour_service.sheets.changing import change_rate
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.opening import open_store, writing
from tests.server.running import Answer, Service, ask, serving
from tests.server.runs import REPRICINGS, make_large_shop, problem, repriced, told

LABOUR = "/v1/rates/shop/labour_rate_per_hour"
ROUNDS = 5
LISTINGS = 20
WAITED = 5.0
"""How long a writer waits for another (store/opening.py)."""
Call = tuple[str, str, str, Any, dict[str, str]]
"""Method, path, key, body and headers."""
# Each sale takes off more than those before, so that every price moves.


class Two(NamedTuple):
    """A service of two workers, a connection to each, and its store."""

    service: Service
    connections: list[HTTPConnection]
    store: Path

    def at_once(self, *calls: Call) -> list[Answer]:
        """Make a call to each worker at the same moment."""
        start = Barrier(len(calls))

        def made(connection: HTTPConnection, call: Call) -> Answer:
            method, path, key, body, headers = call
            start.wait()
            return ask(connection, method, path, key, body=json.encode(body), headers=headers)

        with ThreadPoolExecutor(len(calls)) as callers:
            return list(callers.map(made, self.connections, calls))

    def made_on_sale(self, discount_pct: int) -> str:
        """Reprice all with something taken off; say which repricing it is."""
        name: str = repriced(self.service, over="all", discount_pct=discount_pct)["id"]
        return name

    def prices(self) -> list[tuple[int, str, str, int]]:
        """List the prices, each with its number, its day and the revision that it came from."""
        with closing(sqlite3.connect(self.store)) as plain:
            return plain.execute(
                "SELECT change, sku, effective_from, rates_revision FROM price_change ORDER BY 1"
            ).fetchall()

    def check_listed(self, before: int, times: int) -> None:
        """Check that all listings got so many prices, numbered without a gap."""
        prices = self.prices()
        assert [change for change, *_ in prices] == [*range(1, before + times * LISTINGS + 1)]
        each = [sku for _, sku, *_ in prices[before:]]
        assert each == sorted(set(each)) * times

    def tag(self) -> str:
        """Read the tag of the hour's cost."""
        return self.service.ask("GET", LABOUR, "cost").headers["etag"]


def application(name: str, **headers: str) -> Call:
    return ("POST", f"{REPRICINGS}/{name}/apply", "listings", {"max_change_pct": 900}, headers)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    store = make_large_shop(tmp_path_factory.mktemp("two") / "gramhour.sqlite", LISTINGS)
    # What the store's trouble is, is printed: see the last test.
    with serving(store, "--workers", "2", cuts_off=True) as service:
        connections = [each for (each,) in service.to_each_worker(2).values()]
        yield Two(service, connections, store)


def statuses(answers: list[Answer]) -> list[int]:
    return sorted(answer.status for answer in answers)


def refusal(answers: list[Answer]) -> tuple[int, str, str]:
    return problem(max(answers, key=lambda answer: answer.status))


def test_of_two_who_apply_one_repricing_one_wins_and_the_other_is_told_who(two: Two) -> None:
    for number in range(ROUNDS):
        name, before = two.made_on_sale(1 + number), len(two.prices())
        answers = two.at_once(application(name), application(name))
        assert statuses(answers) == [200, 409]
        status, kind, says = refusal(answers)
        assert (status, kind) == (409, "not-applicable")
        assert says.startswith("listings applied it at ")
        two.check_listed(before, 1)
        assert told(two.service.ask, name)["state"] == "applied"


def test_one_application_sent_twice_at_once_is_made_once_and_answered_twice(two: Two) -> None:
    for number in range(ROUNDS):
        name, before = two.made_on_sale(11 + number), len(two.prices())
        word = {"Idempotency-Key": f"round {number}"}
        answers = two.at_once(application(name, **word), application(name, **word))
        assert statuses(answers) == [200, 200]
        assert answers[0].body == answers[1].body
        assert json.decode(answers[0].body)["change"] == before + LISTINGS
        two.check_listed(before, 1)


def test_of_two_repricings_of_the_same_listings_the_second_is_told_what_moved_on(two: Two) -> None:
    for number in range(ROUNDS):
        names = [two.made_on_sale(21 + 2 * number + n) for n in (0, 1)]
        before = len(two.prices())
        answers = two.at_once(*map(application, names))
        assert statuses(answers) == [200, 409]
        status, kind, says = refusal(answers)
        assert (status, kind) == (409, "moved-on")
        assert says.endswith("has got other prices meanwhile")
        two.check_listed(before, 1)
        states = [told(two.service.ask, name)["state"] for name in names]
        assert sorted(states) == ["applied", "finished"]


def test_rates_saved_while_a_repricing_is_applied_come_before_it_or_after_it(two: Two) -> None:
    seen = Counter[int]()
    for number in range(2 * ROUNDS):
        name, before = two.made_on_sale(41 + number), len(two.prices())
        saved = ("PUT", LABOUR, "rates", f"{40 + number}", {"If-Match": two.tag()})
        answers = two.at_once(application(name), saved)
        assert answers[1].status == 200
        was, now = two.prices()[:before], two.prices()
        assert now[:before] == was
        if answers[0].status == 200:
            two.check_listed(before, 1)
        else:
            status, kind, says = problem(answers[0])
            assert (status, kind) == (409, "moved-on")
            assert "labour_rate_per_hour" in says
            two.check_listed(before, 0)
        revision = json.decode(answers[1].body)["rates_revision"]
        # The prices came from the rates before, whichever was first.
        assert {each[3] for each in now[before:]} <= {revision - 1}
        seen[answers[0].status] += 1
    assert seen.keys() <= {200, 409}


def test_an_application_waits_for_rates_that_another_process_saves_and_is_refused(two: Two) -> None:
    name, before = two.made_on_sale(61), len(two.prices())
    with ThreadPoolExecutor(1) as callers, closing(open_store(two.store)) as store:
        with writing(store):
            hour, dated = ("shop", "labour_rate_per_hour"), Dated(datetime.now(UTC), "ada")
            change_rate(store, hour, 99, dated, lambda _: None)
            waiting: Future[list[Answer]] = callers.submit(two.at_once, application(name))
            # Readers are answered meanwhile.
            assert told(two.service.ask, name)["state"] == "finished"
            assert not waiting.done()
        (answer,) = waiting.result()
    status, kind, says = problem(answer)
    assert (status, kind) == (409, "moved-on")
    assert "labour_rate_per_hour" in says
    assert "by ada" in says
    two.check_listed(before, 0)


def test_on_a_store_locked_for_long_writers_wait_then_are_told_and_nothing_is_half_done(
    two: Two,
) -> None:
    name, before, newest = two.made_on_sale(62), len(two.prices()), two.tag()
    row = {"sku": "P0-0", "product": "product-0", "channel": "own-shop", "note": "locked"}
    calls: list[Call] = [
        application(name, **{"Idempotency-Key": "locked"}),
        ("POST", "/v1/listings", "listings", {"items": [row]}, {}),
        ("POST", REPRICINGS, "listings", {"over": "all"}, {}),
    ]
    with (
        closing(sqlite3.connect(two.store, isolation_level=None)) as other,
        ThreadPoolExecutor(len(calls)) as callers,
    ):
        other.execute("BEGIN IMMEDIATE")
        started = time.monotonic()
        waiting = [
            callers.submit(two.service.ask, method, path, key, body=json.encode(body), headers=more)
            for method, path, key, body, more in calls
        ]
        while not all(each.done() for each in waiting):
            assert told(two.service.ask, name)["state"] == "finished"
        answers = [each.result() for each in waiting]
        taken = time.monotonic() - started
    for answer in answers:
        assert problem(answer)[:2] == (503, "store-busy")
        assert 1 <= int(answer.headers["retry-after"]) <= 60
    assert taken >= WAITED * 0.9
    two.check_listed(before, 0)
    listing = json.decode(two.service.ask("GET", "/v1/listings/P0-0", "cost").body)["listing"]
    assert "note" not in listing
    assert two.tag() == newest
    method, path, key, body, more = calls[0]
    again = two.service.ask(method, path, key, body=json.encode(body), headers=more)
    assert again.status == 200
    two.check_listed(before, 1)

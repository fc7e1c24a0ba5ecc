"""What every answer carries; how many are answered at once, how long one takes, who is counted."""

import asyncio
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.app import create_app
from gramhour_service.http.counts import PLACES, SharedCounts
from gramhour_service.http.settings import Settings
from tests.http.door import NOW, Door, opened, problem_of, scope_of, secret

FIXED = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
}
LISTED: dict[str, Any] = {"json": {"sku": "pot", "quantity": 1}}
AS_COST = [
    (b"authorization", f"Bearer {secret('cost')}".encode()),
    (b"content-type", b"application/json"),
]
SHOP_PAGE = "https://shop.example"


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/health"),
        ("GET", "/nowhere"),
        ("POST", "/health"),
        ("GET", "/v1/rates"),
        ("POST", "/v1/quotes"),
        ("GET", "/docs"),
    ],
)
def test_every_answer_has_the_security_headers_and_an_id_of_its_own(
    shop: Door, method: str, path: str
) -> None:
    one, other = shop.ask(method, path), shop.ask(method, path)
    for answer in (one, other):
        assert {name: answer.headers[name] for name in FIXED} == FIXED
        assert "'none'" in answer.headers["content-security-policy"]
        assert re.fullmatch(r"[0-9a-f]{16}", answer.headers["x-request-id"])
    assert one.headers["x-request-id"] != other.headers["x-request-id"]


def test_no_page_of_another_origin_may_ask_unless_it_is_named(shop_path: Path) -> None:
    asked = {"Origin": SHOP_PAGE, "Access-Control-Request-Method": "POST"}
    with opened(Settings(store=shop_path)) as door:
        for method in ("GET", "OPTIONS"):
            answer = door.ask(method, "/health", headers=asked)
            assert not [name for name in answer.headers if name.startswith("access-control")]
    with opened(Settings(store=shop_path, origins=frozenset({SHOP_PAGE}))) as door:
        preflight = door.ask("OPTIONS", "/v1/quotes", headers=asked)
        assert preflight.headers["access-control-allow-origin"] == SHOP_PAGE
        assert "access-control-allow-credentials" not in preflight.headers
        answer = door.ask("GET", "/v1/rates", "cost", headers={"Origin": SHOP_PAGE})
        assert (answer.status_code, answer.headers["access-control-allow-origin"]) == (
            200,
            SHOP_PAGE,
        )
        assert "cross-origin-resource-policy" not in answer.headers
        assert "Origin" in answer.headers["vary"]
        other = door.ask("GET", "/v1/rates", "cost", headers={"Origin": "https://evil.example"})
        assert "access-control-allow-origin" not in other.headers


def test_more_at_once_than_a_worker_may_have_are_told_to_come_again(shop_path: Path) -> None:
    app = create_app(Settings(store=shop_path, requests_at_once=2), lambda: NOW)
    held = asyncio.Event()
    statuses: list[int] = []

    async def ask() -> None:
        scope = scope_of("POST", "/v1/quotes", b"", AS_COST)

        async def receive() -> Any:
            await held.wait()
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                statuses.append(message["status"])

        await app(scope, receive, send)

    async def all_of_them() -> None:
        under_way = [asyncio.create_task(ask()) for _ in range(2)]
        await asyncio.sleep(0.01)
        await ask()
        assert statuses == [503]
        held.set()
        await asyncio.gather(*under_way)
        await ask()

    asyncio.run(all_of_them())
    app.state.shop.close()
    assert statuses == [503, 400, 400, 400]


def test_a_body_that_never_comes_is_not_waited_for(shop_path: Path) -> None:
    app = create_app(Settings(store=shop_path, seconds_a_request=0.05), lambda: NOW)
    sent: list[Any] = []

    async def receive() -> Any:
        await asyncio.Event().wait()

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(app(scope_of("POST", "/v1/quotes", b"", AS_COST), receive, send))
    app.state.shop.close()
    start, body = sent
    assert start["status"] == 503
    assert dict(start["headers"])[b"retry-after"] == b"5"
    assert json.loads(body["body"])["type"] == "/problems/took-too-long"


def test_a_key_that_sees_no_costs_is_counted_and_one_that_does_is_not(shop_path: Path) -> None:
    with opened(Settings(store=shop_path, prices_a_minute=3)) as door:
        for _ in range(3):
            assert door.ask("POST", "/v1/quotes", "price", **LISTED).status_code == 404
        answer = door.ask("POST", "/v1/quotes", "price", peer="10.0.0.9", **LISTED)
        assert problem_of(answer)[0] == "too-many-requests"
        assert 1 <= int(answer.headers["retry-after"]) <= 60
        assert door.ask("POST", "/v1/quotes", "bound", **LISTED).status_code == 404
        for _ in range(5):
            assert door.ask("GET", "/v1/rates", "cost").status_code == 200


def test_who_tries_many_keys_is_told_to_wait_and_others_are_not(shop_path: Path) -> None:
    with opened(Settings(store=shop_path, wrong_keys_a_minute=3)) as door:
        for _ in range(3):
            assert door.ask("GET", "/v1/rates", "nobody").status_code == 401
        answer = door.ask("GET", "/v1/rates", "nobody")
        assert (answer.status_code, problem_of(answer)[0]) == (429, "too-many-requests")
        assert door.ask("GET", "/v1/rates", "nobody", peer="10.0.0.9").status_code == 401
        assert door.ask("GET", "/v1/rates", "cost").status_code == 200


@pytest.mark.parametrize(
    ("one", "other", "are_one"),
    [
        ("2001:db8:0:1::5", "2001:db8:0:1:ffff::7", True),
        ("2001:db8:0:1::5", "2001:db8:0:2::5", False),
        ("::ffff:10.0.0.5", "10.0.0.5", True),
        ("10.0.0.5", "10.0.0.6", False),
    ],
)
def test_a_network_of_ipv6_is_one_caller(
    shop_path: Path, one: str, other: str, are_one: bool
) -> None:
    with opened(Settings(store=shop_path, public_quotes=True, quotes_a_minute=1)) as door:
        assert door.ask("POST", "/v1/quotes", peer=one, **LISTED).status_code == 404
        second = door.ask("POST", "/v1/quotes", peer=other, **LISTED).status_code
        assert second == (429 if are_one else 404)
        page = door.ask("GET", "/", peer=other, params={"sku": "HP-1", "quantity": "1"})
        assert page.status_code == 429  # pages and programs count together


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def counts(tmp_path: Path, clock: Clock) -> Iterator[tuple[SharedCounts, SharedCounts]]:
    """The same counts, as two processes have them."""
    both = SharedCounts(tmp_path / "counts", clock), SharedCounts(tmp_path / "counts", clock)
    yield both
    for each in both:
        each.close()


def taken(counts: SharedCounts, name: str, times: int, limit: int = 10) -> int:
    return sum(counts.acquire_sliding_window_entry(name, limit, 60) for _ in range(times))


def test_two_processes_count_together(counts: tuple[SharedCounts, SharedCounts]) -> None:
    one, other = counts
    assert (taken(one, "a", 6), taken(other, "a", 6), taken(one, "a", 1)) == (6, 4, 0)
    assert taken(other, "b", 11) == 10


def test_what_was_counted_is_forgotten_as_a_minute_slides_by(
    counts: tuple[SharedCounts, SharedCounts], clock: Clock
) -> None:
    one, _ = counts
    clock.now = 1_020.0  # a window begins
    assert taken(one, "a", 20) == 10
    clock.now = 1_080.0 + 30  # half of the next: half of the ten still counts
    assert taken(one, "a", 20) == 5
    clock.now = 1_320.0
    assert taken(one, "a", 20) == 10


def test_a_flood_of_callers_takes_no_more_memory_and_lets_others_be_counted(
    counts: tuple[SharedCounts, SharedCounts],
) -> None:
    one, _ = counts
    for number in range(2 * PLACES // 100):
        assert one.acquire_sliding_window_entry(f"flood {number}", 1, 60)
    assert taken(one, "a", 11) == 10


def test_metrics_need_the_scope_for_them_and_name_routes_only(own_shop: Door) -> None:
    for key in ("price", "cost", "rates", "listings"):
        assert own_shop.ask("GET", "/metrics", key).status_code == 403
    assert own_shop.ask("GET", "/metrics").status_code == 401
    own_shop.ask("GET", "/v1/rates/materials/pla-chalk", "cost")
    own_shop.ask("GET", "/a-word-of-the-callers")
    answer = own_shop.ask("GET", "/metrics", "operate")
    assert answer.headers["content-type"].startswith("text/plain")
    counted = answer.text.splitlines()
    route = 'method="GET",route="/v1/rates/{kind}/{code}",status="200"'
    assert f"gramhour_requests_total{{{route}}} 1.0" in counted
    assert 'gramhour_requests_total{method="none",route="none",status="404"} 1.0' in counted
    assert "a-word-of-the-callers" not in answer.text
    assert "pla-chalk" not in answer.text

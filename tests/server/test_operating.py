"""Several workers are operated as one: limits and metrics are counted together, all is told."""

import json
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.http.door import HERE, secret
from tests.server.running import QUOTE, Service, ask, demo_store, serving, wait_until
from tests.server.test_doors import LISTED, failed_start

A_MINUTE = 60


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    store = demo_store(tmp_path_factory.mktemp("two") / "gramhour.sqlite")
    with serving(store, "--workers", "2", "--public-quotes", "--proxy", HERE) as service:
        yield service


def counted(service: Service) -> dict[str, float]:
    answer = service.ask("GET", "/metrics", "operate")
    assert answer.status == 200, answer.body
    lines = [line for line in answer.body.decode().splitlines() if not line.startswith("#")]
    return {name: float(value) for name, _, value in (each.rpartition(" ") for each in lines)}


def test_each_worker_tells_the_metrics_of_all(two: Service) -> None:
    quotes = 'gramhour_requests_total{method="POST",route="/v1/quotes",status="200"}'
    before = counted(two).get(quotes, 0)
    connections = [each for (each,) in two.to_each_worker(2).values()]
    for number, connection in enumerate(connections * 3):
        answer = ask(connection, "POST", "/v1/quotes", "cost", body=QUOTE)
        assert answer.status == 200, number
    told = {ask(each, "GET", "/metrics", "operate").worker: counted(two) for each in connections}
    assert len(told) == 2
    for each in told.values():
        assert each[quotes] - before == 6


def test_workers_count_a_caller_without_a_key_together(two: Service) -> None:
    connections = [each for (each,) in two.to_each_worker(2).values()]
    statuses: Counter[tuple[int, bool]] = Counter()
    for number in range(A_MINUTE + 10):
        connection = connections[number % 2]
        answer = ask(
            connection,
            "POST",
            "/v1/quotes",
            body=LISTED,
            headers={"X-Forwarded-For": "198.51.100.99"},
        )
        statuses[number % 2, answer.status == 429] += 1
    let_in = {worker: n for (worker, refused), n in statuses.items() if not refused}
    assert len(let_in) == 2
    # A window that slides on meanwhile lets a few more in.
    assert A_MINUTE <= sum(let_in.values()) < A_MINUTE + 10


def test_a_line_is_told_of_each_request_and_no_key_body_or_price_in_it(store: Path) -> None:
    with serving(store) as service:
        made_up = "a-sku-of-nobody"
        answers = [
            service.ask("POST", "/v1/quotes", "cost", body=QUOTE),
            service.ask("GET", f"/v1/unit-price?sku={made_up}&quantity=7", "price"),
            service.ask("GET", "/v1/rates/materials/pla-chalk", "cost"),
            service.ask("GET", "/v1/rates", "nobody"),
            service.ask("GET", f"/{made_up}"),
        ]
        ids = [answer.headers["x-request-id"] for answer in answers]
        lines: dict[str, dict[str, object]] = {}

        def are_told() -> bool:
            for line in service.printed.read_text().splitlines():
                if line.startswith("{"):
                    told = json.loads(line)
                    lines[told["request"]] = told
            return set(ids) <= lines.keys()

        wait_until(are_told)
        printed = service.printed.read_text()
    assert [
        (lines[each]["method"], lines[each]["route"], lines[each]["status"], lines[each]["key"])
        for each in ids
    ] == [
        ("POST", "/v1/quotes", 200, "cost"),
        ("GET", "/v1/unit-price", 404, "price"),
        ("GET", "/v1/rates/{kind}/{code}", 200, "cost"),
        ("GET", "/v1/rates", 401, ""),
        ("GET", "", 404, ""),
    ]
    assert all(each["address"] == HERE for each in lines.values())
    for never in (secret("cost"), secret("price"), secret("nobody"), made_up, "pla-chalk"):
        assert never not in printed
    price = json.loads(answers[0].body)["at_quantity"]["unit_price"]
    assert price not in printed


def test_beyond_this_machine_a_key_is_needed_to_start() -> None:
    told = failed_start("--host", "0.0.0.0", "--port", "0")
    assert told.startswith("Error: --host 0.0.0.0 lets other machines ask, and no key is good")
    assert told.endswith("gramhour keys add NAME --scope price\n")


def test_public_quotes_on_plain_http_beyond_this_machine_are_refused(store: Path) -> None:
    asked = ("--host", "0.0.0.0", "--port", "0", "--public-quotes")
    told = failed_start(*asked, "--store", str(store))
    assert told.startswith("Error: --public-quotes with --host 0.0.0.0 would answer strangers")
    assert told.endswith("listen on 127.0.0.1, and name the proxy: --proxy 127.0.0.1\n")


def test_a_wider_address_with_a_key_starts_and_says_that_keys_can_be_read(store: Path) -> None:
    told = failed_start("--host", "0.0.0.0", "--port", "99999", "--store", str(store))
    assert told.startswith("Keys and prices go over plain HTTP to 0.0.0.0")
    assert told.endswith("Error: 99999 is no port; choose one from 1 to 65535\n")


def test_settings_are_taken_from_the_environment_too(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GRAMHOUR_QUOTES_A_MINUTE", "2")
    monkeypatch.setenv("GRAMHOUR_PUBLIC_QUOTES", "true")
    monkeypatch.setenv("GRAMHOUR_LOG", "false")
    with serving(store) as service, closing(service.connect()) as connection:
        statuses = [ask(connection, "POST", "/v1/quotes", body=LISTED).status for _ in range(3)]
        assert statuses[:2].count(429) == 0
        assert statuses[2] == 429
        assert "{" not in service.printed.read_text()

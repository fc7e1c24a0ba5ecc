"""Asked through nginx, with the file of deploy/: what a proxy must keep, add, and never open."""

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import httpx
import msgspec
import pytest

from gramhour_service.http.examples import ONE_PIECE
from tests.deploy.proxied import HERE, NAME, Proxied, nginx
from tests.http.door import secret
from tests.server.running import QUOTE, Service, demo_store, serving

AS_COST = {"Authorization": f"Bearer {secret('cost')}"}
JSON = {"Content-Type": "application/json"}
CELL = f"/v1/unit-price?{urlencode(ONE_PIECE)}"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    store = demo_store(tmp_path_factory.mktemp("proxied") / "gramhour.sqlite")
    options = ("--public-quotes", "--proxy", HERE, "--quotes-a-minute", "5")
    with serving(store, *options) as service:
        yield service


@pytest.fixture(scope="module")
def proxied(service: Service, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxied]:
    with nginx(tmp_path_factory.mktemp("nginx") / "of-shop", service.port) as proxied:
        yield proxied


def problem(answer: httpx.Response) -> tuple[int, str]:
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert list(told) == ["type", "title", "status", "detail", "errors"]
    assert told["status"] == answer.status_code
    return answer.status_code, told["type"].removeprefix("/problems/")


def test_a_quote_is_the_same_as_without_a_proxy(proxied: Proxied, service: Service) -> None:
    direct = service.ask("POST", "/v1/quotes", "cost", body=QUOTE)
    answer = proxied.ask("POST", "/v1/quotes", content=QUOTE, headers={**AS_COST, **JSON})
    assert (answer.status_code, answer.content) == (200, direct.body)
    assert answer.headers["strict-transport-security"] == "max-age=31536000"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert re.fullmatch(r"[0-9a-f]{16}", answer.headers["x-request-id"])


def test_an_answer_is_compressed_and_its_weak_tag_still_holds(proxied: Proxied) -> None:
    headers = {**AS_COST, "Accept-Encoding": "gzip"}
    answer = proxied.ask("GET", "/v1/rates", headers=headers)
    assert (answer.status_code, answer.headers["content-encoding"]) == (200, "gzip")
    assert "Accept-Encoding" in answer.headers.get("vary", "")
    tag = answer.headers["etag"]
    assert tag.startswith('W/"')
    again = proxied.ask("GET", "/v1/rates", headers={**headers, "If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")


def test_a_body_that_is_too_large_is_refused_in_our_words_and_a_mesh_may_be_larger(
    proxied: Proxied,
) -> None:
    large = b" " * 11_000_000
    answer = proxied.ask("POST", "/v1/quotes", content=large, headers={**AS_COST, **JSON})
    assert problem(answer) == (413, "body-too-large")
    stl = {**AS_COST, "Content-Type": "model/stl"}
    answer = proxied.ask("POST", "/v1/measurements", content=large, headers=stl)
    assert problem(answer) == (422, "cannot-be-measured")


def test_a_caller_is_known_by_the_address_that_nginx_sees_whatever_it_says(
    proxied: Proxied,
) -> None:
    sku = b'{"sku":"pot","quantity":1}'
    statuses = [
        proxied.ask(
            "POST",
            "/v1/quotes",
            content=sku,
            headers={**JSON, "X-Forwarded-For": f"203.0.113.{n}", "Forwarded": f"for=10.0.0.{n}"},
        )
        for n in range(8)
    ]
    assert [each.status_code for each in statuses[:5]] == [404] * 5
    assert statuses[-1].status_code == 429
    assert 1 <= int(statuses[-1].headers["retry-after"]) <= 60


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost", f"{NAME}.evil.example"])
def test_by_another_name_nothing_is_answered(proxied: Proxied, host: str) -> None:
    answer = proxied.ask("GET", "/health", host=host)
    assert answer.status_code == 421
    assert b"ready" not in answer.content


def test_plain_http_is_sent_to_tls_by_our_own_name_only(proxied: Proxied) -> None:
    address = f"http://{HERE}:{proxied.plain_port}/v1/rates?x=1"
    answer = httpx.get(address, headers={"Host": "evil.example"}, trust_env=False)
    assert (answer.status_code, answer.headers["location"]) == (
        301,
        f"https://{NAME}/v1/rates?x=1",
    )


def test_metrics_are_not_told_through_it_even_to_who_has_the_key(
    proxied: Proxied, service: Service
) -> None:
    headers = {"Authorization": f"Bearer {secret('operate')}"}
    assert problem(proxied.ask("GET", "/metrics", headers=headers)) == (404, "no-such-path")
    assert service.ask("GET", "/metrics", "operate").status == 200


def test_a_service_that_is_away_is_told_in_our_words(tmp_path: Path) -> None:
    with nginx(tmp_path / "alone", 9) as proxied:  # nothing listens there
        answer = proxied.ask("GET", "/health")
    assert problem(answer) == (503, "service-busy")
    assert answer.headers["retry-after"] == "5"


def test_no_loopback_privilege_is_given_through_it(tmp_path: Path) -> None:
    """Cells of this machine are answered without a key; what came through nginx is not."""
    store = demo_store(tmp_path / "gramhour.sqlite")
    with serving(store, "--local-cells") as cells, nginx(tmp_path / "front", cells.port) as proxied:
        own = cells.ask("GET", CELL, headers={"Host": f"{HERE}:{cells.port}"})
        assert (own.status, own.body) == (200, b"7.90")
        for more in ({}, {"X-Forwarded-For": HERE}, {"Forwarded": f"for={HERE}"}, {"Via": ""}):
            answer = proxied.ask("GET", CELL, headers=more)
            assert problem(answer) == (401, "key-needed")
        for host in (HERE, "localhost", f"{HERE}:{cells.port}"):
            answer = proxied.ask("GET", CELL, host=host)
            assert (answer.status_code, b"7.90" in answer.content) == (421, False)
        told = msgspec.json.decode(proxied.ask("GET", "/v1/rates").content)
        assert told["type"] == "/problems/key-needed"

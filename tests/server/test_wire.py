"""What only a real connection shows: bodies left out, bodies too large, callers that are slow."""

import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing
from http.client import HTTPResponse
from urllib.parse import urlencode

import msgspec
import pytest

from gramhour_service.http.examples import ONE_PIECE
from gramhour_service.http.settings import MOST_BODY_BYTES
from tests.http.door import HERE, JSON, secret
from tests.server.running import QUOTE, Answer, Service, demo_store, serving

SLOW = 40
CHUNK = b" " * 100_000
KEY = f"Authorization: Bearer {secret('cost')}\r\n"
POST = f"POST /v1/quotes HTTP/1.1\r\nHost: shop\r\n{KEY}Content-Type: {JSON}\r\n"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    store = demo_store(tmp_path_factory.mktemp("wire") / "gramhour.sqlite")
    with serving(store) as service:
        yield service


def connected(service: Service) -> socket.socket:
    return socket.create_connection((HERE, service.port), timeout=30)


def answer_on(connection: socket.socket) -> Answer:
    with closing(HTTPResponse(connection)) as answer:
        answer.begin()
        told = {name.lower(): value for name, value in answer.getheaders()}
        return Answer(answer.status, told, answer.read())


@pytest.mark.parametrize(
    "path",
    ["/health", "/openapi.json", "/docs", "/v1/rates", "/v1/rates/materials", "/v1/rates/shop/none",
     f"/v1/unit-price?{urlencode(ONE_PIECE)}", "/v1/unit-price", "/nothing-here"],
)  # fmt: skip
def test_head_sends_what_get_sends_but_the_body(service: Service, path: str) -> None:
    got = service.ask("GET", path, "cost")
    with connected(service) as connection:
        connection.sendall(
            f"HEAD {path} HTTP/1.1\r\nHost: {HERE}:{service.port}\r\n{KEY}"
            "Connection: close\r\n\r\n".encode()
        )
        received = b"".join(iter(lambda: connection.recv(65_536), b""))
    head, _, body = received.partition(b"\r\n\r\n")
    status, *lines = head.decode().split("\r\n")
    told = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines)}
    assert body == b""
    assert int(status.split()[1]) == got.status
    assert int(told["content-length"]) == len(got.body)
    told.pop("connection")
    own = {"date": "", "x-request-id": ""}  # of each answer
    assert {**told, **own} == {**got.headers, **own}


def test_a_body_too_large_is_refused_however_it_comes(service: Service) -> None:
    with connected(service) as connection:
        connection.sendall(f"{POST}Transfer-Encoding: chunked\r\n\r\n".encode())
        for _ in range(MOST_BODY_BYTES // len(CHUNK)):
            connection.sendall(b"%x\r\n%s\r\n" % (len(CHUNK), CHUNK))
        connection.sendall(b"1\r\n \r\n")
        check_too_large(answer_on(connection))
    with connected(service) as connection:
        connection.sendall(f"{POST}Content-Length: {MOST_BODY_BYTES + 1}\r\n\r\n".encode())
        check_too_large(answer_on(connection))
    assert service.ask("POST", "/v1/quotes", "cost", body=QUOTE).status == 200


def check_too_large(answer: Answer) -> None:
    told = msgspec.json.decode(answer.body)
    assert (answer.status, told["type"]) == (413, "/problems/body-too-large")


def test_a_body_of_the_largest_size_is_read(service: Service) -> None:
    body = QUOTE + b" " * (MOST_BODY_BYTES - len(QUOTE))
    assert service.ask("POST", "/v1/quotes", "cost", body=body).status == 200


def test_two_hosts_are_refused_whichever_is_the_right_one(service: Service) -> None:
    """RFC 9112, 3.2: 400 to a request with more than one Host field line."""
    for second in ("shop", "other"):
        with connected(service) as connection:
            connection.sendall(
                f"GET /health HTTP/1.1\r\nHost: shop\r\nhOST: {second}\r\n\r\n".encode()
            )
            answer = answer_on(connection)
        told = msgspec.json.decode(answer.body)
        assert (answer.status, told["type"]) == (400, "/problems/malformed-host")
        assert told["detail"].startswith("the request has 2 Host headers; send one,")
        assert "retry-after" not in answer.headers


def test_slow_callers_keep_nobody_waiting_and_are_answered_in_the_end(service: Service) -> None:
    expected = service.ask("POST", "/v1/quotes", "cost", body=QUOTE).body
    sent = f"{POST}Content-Length: {len(QUOTE)}\r\n\r\n".encode() + QUOTE
    with ExitStack() as stack:
        slow = [stack.enter_context(connected(service)) for _ in range(SLOW)]
        for n, connection in enumerate(slow):
            connection.sendall(sent[: n * len(sent) // SLOW])  # some within their headers
        for _ in range(10):
            assert service.ask("POST", "/v1/quotes", "cost", body=QUOTE).body == expected
        for n, connection in enumerate(slow):
            connection.sendall(sent[n * len(sent) // SLOW :])
            assert answer_on(connection).body == expected


def test_a_caller_that_goes_away_leaves_the_service_as_it_was(service: Service) -> None:
    for cut in (10, len(POST), len(POST) + 40):
        with connected(service) as connection:
            connection.sendall(f"{POST}Content-Length: {len(QUOTE)}\r\n\r\n".encode()[:cut])
    with connected(service) as connection:
        connection.sendall(f"{POST}Content-Length: {len(QUOTE)}\r\n\r\n".encode() + QUOTE)
    assert service.ask("POST", "/v1/quotes", "cost", body=QUOTE).status == 200


def test_what_is_no_http_is_refused_and_the_service_goes_on(service: Service) -> None:
    with connected(service) as connection:
        connection.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03 not HTTP\r\n\r\n")
        assert answer_on(connection).status == 400
    assert service.ask("GET", "/health").status == 200

"""Told to stop, the service answers what was begun, takes nothing new, and ends."""

import os
import signal
from contextlib import closing
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path

import msgspec
import pytest

from gramhour_service.http.running import SECONDS_TO_FINISH
from tests.http.door import JSON, NDJSON, secret
from tests.server.running import QUOTE, Answer, ask, serving

REQUESTS = 300
HEAD = (
    f"POST /v1/quotes HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer {secret('cost')}\r\n"
    f"Content-Type: {JSON}\r\nContent-Length: {len(QUOTE)}\r\n\r\n"
).encode()
HALF = len(QUOTE) // 2
CODES = {1: 0, 2: 0}
"""It did as it was told, alone and with several workers."""


def is_closed(connection: HTTPConnection) -> bool:
    """Wait until the other side has closed an idle connection."""
    return connection.sock.recv(1) == b""


def answer_on(connection: HTTPConnection) -> Answer:
    with closing(HTTPResponse(connection.sock)) as answer:
        answer.begin()
        told = {name.lower(): value for name, value in answer.getheaders()}
        return Answer(answer.status, told, answer.read())


@pytest.mark.parametrize("workers", [1, 2])
def test_what_was_begun_is_answered_in_full_after_the_word_to_stop(
    store: Path, workers: int
) -> None:
    with serving(store, "--workers", str(workers)) as service:
        expected = service.ask("POST", "/v1/quotes", "cost", body=QUOTE)
        pairs = service.to_each_worker(workers, each=2)
        for begun, _ in pairs.values():
            begun.sock.sendall(HEAD + QUOTE[:HALF])
        # Each worker has read the first half once it answers what was sent after it.
        for name, (_, idle) in pairs.items():
            assert ask(idle, "GET", "/health").worker == name
        service.process.terminate()
        assert all(is_closed(idle) for _, idle in pairs.values())
        for name, (begun, _) in pairs.items():
            begun.sock.sendall(QUOTE[HALF:])
            answer = answer_on(begun)
            assert (answer.status, answer.worker) == (200, name)
            assert answer.headers["connection"] == "close"
            assert answer.body == expected.body
        assert service.process.wait(10) == CODES[workers]
        with pytest.raises(ConnectionRefusedError):
            service.ask("GET", "/health")


def test_a_batch_that_is_being_answered_is_answered_to_its_last_line(store: Path) -> None:
    with serving(store) as service, closing(service.connect()) as connection:
        headers = {"Authorization": f"Bearer {secret('cost')}", "Content-Type": NDJSON}
        connection.request("POST", "/v1/quotes/batch", (QUOTE + b"\n") * REQUESTS, headers)
        answer = connection.getresponse()
        lines = [answer.readline()]
        service.process.terminate()
        lines += answer.read().splitlines(keepends=True)
        assert service.process.wait(10) == CODES[1]
    assert len(lines) == REQUESTS + 1
    assert all("quote" in msgspec.json.decode(line) for line in lines[:-1])
    assert msgspec.json.decode(lines[-1]) == {"done": REQUESTS}


@pytest.mark.parametrize("workers", [1, 2])
def test_a_service_that_nobody_asks_stops_at_once(store: Path, workers: int) -> None:
    with serving(store, "--workers", str(workers)) as service:
        connections = service.to_each_worker(workers)
        assert service.stop() == CODES[workers]
        assert all(is_closed(idle) for (idle,) in connections.values())


def test_a_caller_that_never_ends_does_not_keep_it_from_stopping(store: Path) -> None:
    with serving(store, "--workers", "2", cuts_off=True) as service:
        for (begun,) in service.to_each_worker(2).values():
            begun.sock.sendall(HEAD + QUOTE[:HALF])
        service.process.terminate()
        assert service.process.wait(SECONDS_TO_FINISH + 10) == CODES[2]


@pytest.mark.parametrize("workers", [1, 2])
def test_the_interrupt_key_ends_it_well(store: Path, workers: int) -> None:
    with serving(store, "--workers", str(workers)) as service:
        service.to_each_worker(workers)
        os.killpg(service.process.pid, signal.SIGINT)  # a terminal tells the workers too
        assert service.process.wait(10) == 0

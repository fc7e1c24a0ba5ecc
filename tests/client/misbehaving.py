"""A real server on this machine that misbehaves as it is told, and counts what it was asked.

Each request is answered by the next of its turns; the last turn answers all that follow.
"""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import NamedTuple

PROBLEM = "application/problem+json"
SLOW = (
    b'{"type":"/problems/too-many-requests","title":"Too many requests","status":429,'
    b'"detail":"ask less often","errors":[{"detail":"ask less often"}]}'
)
BUSY = (
    b'{"type":"/problems/store-busy","title":"The store is busy","status":503,'
    b'"detail":"ask again","errors":[{"detail":"ask again"}]}'
)


class Asked(NamedTuple):
    """A request as it came."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


Turn = Callable[["Handler", Asked], None]


class Handler(BaseHTTPRequestHandler):
    """One connection of the misbehaving server."""

    protocol_version = "HTTP/1.1"
    server: "Misbehaving"

    def take(self) -> None:
        body = self.rfile.read(int(self.headers.get("content-length", 0)))
        headers = {name.lower(): value for name, value in self.headers.items()}
        asked = Asked(self.command, self.path, headers, body)
        with self.server.lock:
            number = len(self.server.asked)
            self.server.asked.append(asked)
        turns = self.server.turns
        turns[min(number, len(turns) - 1)](self, asked)

    do_GET = do_POST = do_PUT = do_DELETE = take  # noqa: N815 (named by the library)

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def tell(self, status: int, body: bytes, media_type: str, **headers: str) -> None:
        self.begin(status, media_type, **{"Content-Length": str(len(body)), **headers})
        self.wfile.write(body)

    def begin(self, status: int, media_type: str, **headers: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", media_type)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.end_headers()

    def hang_up(self) -> None:
        self.close_connection = True
        self.connection.shutdown(socket.SHUT_RDWR)


class Misbehaving(ThreadingHTTPServer):
    """The server, its turns, and what it was asked."""

    daemon_threads = True

    def __init__(self, *turns: Turn) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.turns, self.asked, self.lock = turns, list[Asked](), threading.Lock()
        self.url = f"http://127.0.0.1:{self.server_address[1]}"

    def handle_error(self, *_: object) -> None:
        """A client that has gone away is what these tests are about."""


@contextmanager
def misbehaving(*turns: Turn) -> Iterator[Misbehaving]:
    """Run the server."""
    server = Misbehaving(*turns)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,))
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def says(
    body: bytes, status: int = 200, media_type: str = "application/json", **headers: str
) -> Turn:
    return lambda handler, _: handler.tell(status, body, media_type, **headers)


def too_many(retry_after: str, **headers: str) -> Turn:
    return says(SLOW, 429, PROBLEM, Retry_After=retry_after, **headers)


def is_busy(**headers: str) -> Turn:
    return says(BUSY, 503, PROBLEM, **headers)


def is_slow(seconds: float) -> Turn:
    return lambda *_: time.sleep(seconds)


def hangs_up(handler: Handler, _: Asked) -> None:
    handler.hang_up()


def cut(body: bytes, after: int, media_type: str = "application/json") -> Turn:
    """Promise a whole answer and hang up in the midst of it."""

    def turn(handler: Handler, _: Asked) -> None:
        handler.begin(200, media_type, **{"Content-Length": str(len(body))})
        handler.wfile.write(body[:after])
        handler.hang_up()

    return turn

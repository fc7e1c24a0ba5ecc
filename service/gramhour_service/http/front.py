"""What every request meets before any route: how many at once, how long, and what is told of it.

It sees a request's method and route, who asked and what came of it. It never sees or writes down
a key, a body, a price, or what stands in a query or a path.
"""

import asyncio
import secrets
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Any, NamedTuple

import msgspec
from litestar.enums import ScopeType
from litestar.types import ASGIApp, Message, Receive, Scope, Send
from msgspec import UNSET

from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.problems import MEDIA_TYPE, SECONDS_TO_WAIT, problem_of
from gramhour_service.http.settings import Settings

ID_BYTES = 8
SECURITY = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
POLICY = (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'")
"""What a browser may do with an answer that says nothing itself: nothing."""
RESOURCES = b"cross-origin-resource-policy"
"""The header that would keep named origins from what they may read."""
Headers = tuple[tuple[bytes, bytes], ...]
BUSY = "this worker answers as many as it may; ask again after Retry-After"
TOO_LONG = "it took longer than a request may; ask for less at once"
HOSTS = "the request has {} Host headers; send one, for what stands before may have read another"
"""Refused as RFC 9112, 3.2 says: the server below hands on all of them, the framework reads one."""
Counts = Callable[["Passed"], None]


class Passed(NamedTuple):
    """What is told of a request once it is answered, for a log and for metrics."""

    id: str
    method: str
    route: str
    status: int
    seconds: float
    door: str
    name: str
    address: str


class Front:
    """Stands before the application; it counts what is under way in this worker."""

    def __init__(self, app: ASGIApp, settings: Settings, told: tuple[Counts, ...]) -> None:
        """Stand before ``app``; each of ``told`` hears of every request that was answered."""
        self._app, self._told = app, told
        self._most, self._seconds = settings.requests_at_once, settings.seconds_a_request
        all_have = (*SECURITY, POLICY)
        open_to_named = (each for each in all_have if each[0] != RESOURCES)
        self._headers = tuple(open_to_named) if settings.origins else all_have
        self._under_way = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say why not."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        began, told = time.perf_counter(), _Answer(send, self._headers)
        self._under_way += 1
        try:
            hosts = sum(name == b"host" for name, _ in scope["headers"])
            if hosts > 1:
                await _refuse(told, "malformed-host", HOSTS.format(hosts))
            elif self._under_way > self._most:
                await _refuse(told, "service-busy", BUSY)
            else:
                await self._in_time(scope, receive, told)
        finally:
            self._under_way -= 1
            passed = _passed(scope, told, time.perf_counter() - began)
            for hear in self._told:
                hear(passed)

    async def _in_time(self, scope: Scope, receive: Receive, told: "_Answer") -> None:
        """Let a request take its time until the answer begins, and no more."""
        try:
            async with asyncio.timeout(self._seconds) as told.limit:
                await self._app(scope, receive, told)
        except TimeoutError:
            if told.status:
                raise
            told.limit = None  # it is over
            await _refuse(told, "took-too-long", TOO_LONG)


class _Answer:
    """Sends an answer on, with the headers that all have, and keeps its status."""

    __slots__ = ("_headers", "_send", "id", "limit", "status")

    def __init__(self, send: Send, headers: Headers) -> None:
        self._send, self._headers = send, headers
        self.id = secrets.token_hex(ID_BYTES)
        self.status = 0
        self.limit: asyncio.Timeout | None = None

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            if self.limit is not None:
                self.limit.reschedule(None)
            headers = [*message["headers"], (b"x-request-id", self.id.encode())]
            said = {name.lower() for name, _ in headers}
            message["headers"] = headers + [each for each in self._headers if each[0] not in said]
        await self._send(message)


async def _refuse(told: _Answer, kind: str, detail: str) -> None:
    body = msgspec.json.encode(problem_of(Refused(kind, (Fault(UNSET, detail),))))
    headers = [
        (b"content-type", MEDIA_TYPE.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        (b"vary", b"Accept, Authorization"),
    ]
    status = PROBLEMS[kind].status
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        headers.append((b"retry-after", SECONDS_TO_WAIT.encode()))
    await told({"type": "http.response.start", "status": status, "headers": headers})
    await told({"type": "http.response.body", "body": body, "more_body": False})


def _passed(scope: Any, told: _Answer, seconds: float) -> Passed:
    asker = scope.get("state", {}).get("asker")
    client = scope.get("client")
    return Passed(
        id=told.id,
        method=scope["method"],
        route=scope.get("path_template", ""),
        status=told.status,
        seconds=seconds,
        door="" if asker is None else asker.door,
        name="" if asker is None or asker.door != "key" else asker.name,
        address=client[0] if client else "",
    )


LINE = msgspec.json.Encoder()


def write_line(passed: Passed) -> None:
    """Write a line of JSON on standard error: one for each request."""
    line = {
        "at": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "request": passed.id,
        "method": passed.method,
        "route": passed.route,
        "status": passed.status,
        "ms": round(1000 * passed.seconds, 2),
        "door": passed.door,
        "key": passed.name,
        "address": passed.address,
    }
    sys.stderr.write(LINE.encode(line).decode() + "\n")
    sys.stderr.flush()

"""A service asked in-process, as its callers ask it; the demo's shop with a key of each kind."""

import asyncio
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
from litestar import Litestar
from sqlite_utils import Database

from gramhour.contract.rates import RateSheet
from gramhour_service.http.app import create_app
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.settings import Settings
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.keys import add_key, revoke_key
from gramhour_service.store.opening import open_store
from tests import demo
from tests.forked import start_run

NOW = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
HERE = "127.0.0.1"
BOUND = f"{HERE}:8750"
SCOPES = ("price", "cost", "rates", "listings", "operate")
JSON = "application/json"
NDJSON = "application/x-ndjson"
PROBLEM = "application/problem+json"
Headers = list[tuple[bytes, bytes]]


MADE: dict[str, bytes] = {}
"""Stores made in this process, as files."""


class Door:
    """An application that can be asked, from this machine unless a peer is named."""

    def __init__(self, app: Litestar) -> None:
        self.app = app
        self._runner = asyncio.Runner()
        self._clients: dict[str, httpx.AsyncClient] = {}

    def ask(
        self,
        method: str,
        path: str,
        key: str | None = None,
        *,
        peer: str = "127.0.0.1",
        **sent: Any,
    ) -> httpx.Response:
        """Ask with the key of a name; ``sent`` is what httpx takes."""
        headers = {} if key is None else {"Authorization": f"Bearer {secret(key)}"}
        request = self._client(peer).build_request(
            method, path, **{**sent, "headers": {**headers, **sent.get("headers", {})}}
        )
        return self.send(request, peer)

    def send(self, request: httpx.Request, peer: str = HERE) -> httpx.Response:
        """Send a request as it stands."""
        return self._runner.run(self._client(peer).send(request))

    def close(self) -> None:
        """Close the store and all connections."""
        for client in self._clients.values():
            self._runner.run(client.aclose())
        self._runner.close()
        self.app.state.shop.close()

    def _client(self, peer: str) -> httpx.AsyncClient:
        if peer not in self._clients:
            app: Any = self.app  # typed more narrowly than httpx asks
            self._clients[peer] = httpx.AsyncClient(
                transport=httpx.ASGITransport(app=app, client=(peer, 50_000)),
                base_url=f"http://{BOUND}",
            )
        return self._clients[peer]


@contextmanager
def opened(settings: Settings, now: Callable[[], datetime] = lambda: NOW) -> Iterator[Door]:
    """Open a service."""
    door = Door(create_app(settings, now))
    door.app.state.shop.start_run = start_run
    try:
        yield door
    finally:
        door.close()


def secret(name: str) -> str:
    """Say the secret of the key of a name."""
    return f"{name}-secret-of-a-key-in-the-tests"


def take_in(path: Path, sheet: RateSheet, **dated: Any) -> int | None:
    """Put a sheet into a store, as another process would; say the new revision."""
    store = open_store(path, create=True)
    try:
        return import_sheet(store, sheet, now=NOW, made_by="tests", **dated).revision
    finally:
        store.close()


def make_shop(path: Path, sheet: RateSheet | None = None) -> Path:
    """Make a store with a sheet, the demo's unless given, and a key of each kind."""
    if sheet is not None:
        take_in(path, sheet)
        return add_keys(path)
    return made_once(path, "shop", lambda: make_shop(path, demo.sheet()))


def shop_with(path: Path, what: str, put: Callable[[Door], object]) -> Path:
    """Make the demo's shop with what is put into it: a name of that, and how."""

    def make() -> None:
        with opened(Settings(store=make_shop(path))) as door:
            put(door)

    return made_once(path, what, make)


def made_once(path: Path, what: str, make: Callable[[], object]) -> Path:
    """Make a store, or copy one that was made alike in this process."""
    if what in MADE:
        path.touch(0o600)
        path.write_bytes(MADE[what])
    else:
        make()
        with closing(sqlite3.connect(path)) as made:
            MADE[what] = made.serialize()
    return path


def open_empty(path: Path) -> Database:
    """Open a store with nothing in it."""
    return open_store(made_once(path, "nothing", lambda: open_store(path, create=True).close()))


def add_keys(path: Path) -> Path:
    """Add a key of each kind to a store, and make it if there is none."""
    store = open_store(path, create=True)
    try:
        for scope in SCOPES:
            add_key(store, scope, secret(scope), [scope], now=NOW)
        bound = ["own-shop"]
        add_key(store, "bound", secret("bound"), ["price"], now=NOW, channels=bound)
        over = NOW - timedelta(seconds=1)
        add_key(store, "expired", secret("expired"), ["rates"], now=NOW, expires_at=over)
        add_key(store, "revoked", secret("revoked"), ["rates"], now=NOW)
        revoke_key(store, "revoked", now=NOW)
    finally:
        store.close()
    return path


def scope_of(method: str, path: str, query: bytes, headers: Headers) -> Any:
    """Make what a server makes of a request's first lines."""
    return {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query,
        "root_path": "",
        "headers": [(b"host", BOUND.encode()), *headers],
        "client": (HERE, 50_000),
        "server": (HERE, 8750),
        "state": {},
    }


def problem_type(answer: httpx.Response) -> str | None:
    """Say the type of a problem without its path, or nothing if it is no problem."""
    if answer.headers.get("content-type") != PROBLEM:
        return None
    return str(answer.json()["type"]).removeprefix("/problems/")


def problem_of(answer: httpx.Response) -> tuple[str, list[dict[str, Any]]]:
    """Check that a refusal has the one shape and stands in the table; say its type and faults."""
    assert answer.headers["content-type"] == PROBLEM
    assert answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert answer.status_code == told["status"]
    return shape_of(told)


def shape_of(told: dict[str, Any]) -> tuple[str, list[dict[str, Any]]]:
    """Check a problem, in a body of its own or in that of a batch."""
    assert list(told) == ["type", "title", "status", "detail", "errors"]
    kind = told["type"].removeprefix("/problems/")
    assert (told["status"], told["title"]) == PROBLEMS[kind][:2]
    assert told["detail"]
    assert told["errors"]
    for fault in told["errors"]:
        assert fault["detail"]
        assert len(fault) <= 2
        assert fault.keys() <= {"detail", "pointer", "parameter", "line"}
    return kind, told["errors"]

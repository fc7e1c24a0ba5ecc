"""The service's own application in this process, for callers on the shop's machine: no server.

It is imported by name, where it is asked for: the client itself knows nothing of the service.
"""

import asyncio
import importlib
import os
from collections.abc import Callable, Coroutine, Mapping
from datetime import datetime
from pathlib import Path
from threading import Thread
from typing import Any, Protocol, TypeAlias, TypeVar

import httpx
import msgspec
from msgspec import UNSET

from gramhour.contract.problem import Problem
from gramhour.contract.rates import RateSheet
from gramhour.errors import Refusal, Unreachable

T = TypeVar("T")
URL = "http://in-process"
ROOM = "gramhour_service.http.local"

Sheet: TypeAlias = RateSheet | Mapping[str, Any] | str | os.PathLike[str]
"""A rate sheet: a type of the contract, a plain dict, or a TOML or JSON file."""
Clock: TypeAlias = Callable[[], datetime]


class Opened(Protocol):
    """What the service gives: its application, a key that nobody else has, a way to close it."""

    app: Any
    key: str

    def close(self) -> None:
        """Close the store."""


def open_service(store: str | os.PathLike[str] | None, rates: Sheet | None, now: Clock) -> Opened:
    """Open the service in this process. Raises ``Unreachable`` and ``Refusal``."""
    if store is not None and rates is not None:
        raise TypeError("store and rates exclude each other; give one of them")
    try:
        room = importlib.import_module(ROOM)
    except ImportError as error:
        raise Unreachable(
            f"the service is not installed in this environment ({error}); "
            "install gramhour-service beside gramhour, or ask a running one: Client(url=…)"
        ) from error
    sheet = Path(rates) if isinstance(rates, str | os.PathLike) else rates
    opened: Opened | Problem = room.open_local(None if store is None else Path(store), sheet, now)
    if isinstance(opened, Problem):
        raise Refusal(opened, UNSET if isinstance(sheet, Path) else msgspec.to_builtins(sheet))
    return opened


class InProcess(httpx.BaseTransport):
    """Carries requests to an application that runs on an event loop in a thread of its own.

    So it works from any thread, and from where another loop runs already, as in a notebook.
    """

    def __init__(self, open_app: Callable[[], Opened]) -> None:
        """Open the application in its thread. Raises what ``open_app`` raises."""
        self._loop = asyncio.new_event_loop()
        self._thread = Thread(target=self._loop.run_forever, name="gramhour", daemon=True)
        self._thread.start()
        try:
            self._opened = self._run(_called(open_app))
        except BaseException:
            self._end()
            raise
        self._transport = httpx.ASGITransport(self._opened.app)
        self.key = self._opened.key

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Have the application answer."""
        return self._run(self._answer(request))

    async def _answer(self, request: httpx.Request) -> httpx.Response:
        response = await self._transport.handle_async_request(request)
        return httpx.Response(
            response.status_code, headers=response.headers, content=await response.aread()
        )

    def close(self) -> None:
        """Close the application and end its thread."""
        if not self._loop.is_closed():
            self._run(_called(self._opened.close))
            self._end()

    def _run(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    def _end(self) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()


async def _called(function: Callable[[], T]) -> T:
    return function()


class InLoop(httpx.ASGITransport):
    """Carries requests to an application in the caller's own event loop."""

    def __init__(self, opened: Opened) -> None:
        """Keep the application, to be closed with the client."""
        super().__init__(opened.app)
        self._opened = opened

    async def aclose(self) -> None:
        """Close the application."""
        self._opened.close()

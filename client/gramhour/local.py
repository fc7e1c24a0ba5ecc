"""The service's own application in this process, for callers on the shop's machine: no server.

It is imported by name, where it is asked for: the client itself knows nothing of the service.
"""

import asyncio
import importlib
import os
import weakref
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError, Future
from datetime import datetime
from pathlib import Path
from threading import Lock, Thread
from typing import Any, Protocol, TypeAlias, TypeVar

import httpx
import msgspec
from msgspec import UNSET

from gramhour.contract.problem import Problem
from gramhour.contract.rates import RateSheet
from gramhour.errors import Closed, Refusal, Unreachable

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
        sent = msgspec.to_builtins(sheet) if isinstance(sheet, msgspec.Struct) else sheet
        raise Refusal(opened, UNSET if isinstance(sheet, Path) else sent)
    return opened


class InProcess(httpx.BaseTransport):
    """Carries requests to an application that runs on an event loop in a thread of its own.

    So it works from any thread, and from where another loop runs already, as in a notebook. It
    ends when it is closed, and when nobody holds it any more.
    """

    def __init__(self, open_app: Callable[[], Opened]) -> None:
        """Open the application in its thread. Raises what ``open_app`` raises."""
        self._loop = asyncio.new_event_loop()
        self._thread = Thread(target=_live, args=(self._loop,), name="gramhour", daemon=True)
        self._thread.start()
        self._lock, self._is_closed, self._process = Lock(), False, os.getpid()
        try:
            opened = asyncio.run_coroutine_threadsafe(_called(open_app), self._loop).result()
        except BaseException:
            _start_ending(self._loop, self._process, None)
            self._thread.join()
            raise
        self._transport = httpx.ASGITransport(opened.app)
        self.key = opened.key
        self._end = weakref.finalize(self, _start_ending, self._loop, self._process, opened.close)
        self._end.atexit = False

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Have the application answer. Raises ``Closed`` when it is ended meanwhile."""
        if os.getpid() != self._process:
            raise Closed("it was made in the process that this one is a fork of; make one here")
        with self._lock:
            if self._is_closed:
                raise Closed("")
            answer = asyncio.run_coroutine_threadsafe(
                _answered(self._transport, request), self._loop
            )
        try:
            return answer.result()
        except CancelledError as error:
            raise Closed("while it was asking") from error

    def close(self) -> None:
        """Break off what is under way, close the application and end its thread."""
        with self._lock:
            is_first, self._is_closed = not self._is_closed, True
        if is_first and os.getpid() == self._process:
            ended = self._end()
            self._thread.join()
            if ended is not None:
                ended.result()


async def _answered(transport: httpx.ASGITransport, request: httpx.Request) -> httpx.Response:
    response = await transport.handle_async_request(request)
    return httpx.Response(
        response.status_code, headers=response.headers, content=await response.aread()
    )


async def _called(function: Callable[[], T]) -> T:
    return function()


def _live(loop: asyncio.AbstractEventLoop) -> None:
    """Run a loop until it is stopped, then close it: the whole life of its thread."""
    try:
        loop.run_forever()
    finally:
        loop.close()


def _start_ending(
    loop: asyncio.AbstractEventLoop, process: int, close: Callable[[], None] | None
) -> Future[None] | None:
    """Have a loop end itself, without waiting for it: it may be that loop that asks."""
    if os.getpid() != process:
        return None
    return asyncio.run_coroutine_threadsafe(_end(close), loop)


async def _end(close: Callable[[], None] | None) -> None:
    """Break off every call, then close what is open; the loop stops whatever comes of it."""
    loop = asyncio.get_running_loop()
    try:
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)
        await loop.shutdown_asyncgens()
        await loop.shutdown_default_executor()
    finally:
        try:
            if close is not None:
                close()
        finally:
            loop.call_soon(loop.stop)


class InLoop(httpx.ASGITransport):
    """Carries requests to an application in the caller's own event loop."""

    def __init__(self, opened: Opened) -> None:
        """Keep the application, to be closed with the client."""
        super().__init__(opened.app)
        self._opened = opened

    async def aclose(self) -> None:
        """Close the application."""
        self._opened.close()

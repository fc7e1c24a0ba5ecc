"""Sends requests, and says again and again what came of it.

What to send and when is a conversation: a generator that asks for steps and is told how each
went. It is the same for both clients; each has its own small function that takes the steps.
"""

import asyncio
import time
from collections.abc import Awaitable, Callable, Generator
from contextlib import aclosing, closing
from typing import NamedTuple, TypeAlias, TypeVar

import httpx

from gramhour.answers import read_answer
from gramhour.arrived import Arrived
from gramhour.building import WHOLE, Caller, Http, build
from gramhour.calls import Call
from gramhour.errors import OF_CARRYING, Closed, TooLarge, TooSlow
from gramhour.retries import wait_before_next

T = TypeVar("T")
MOST_BYTES_OF_ANSWER = 128_000_000
"""Unpacked. A thousand quotes in the cost view, each at 50 breaks, have about half of it."""


class Wait(NamedTuple):
    """Wait so many seconds."""

    seconds: float


Conversation: TypeAlias = Generator[httpx.Request | Wait, Arrived | None, T]
Sleep: TypeAlias = Callable[[float], object]
AsyncSleep: TypeAlias = Callable[[float], Awaitable[object]]


def conversation(http: Http, caller: Caller, call: Call[T]) -> Conversation[T]:
    """Ask until there is an answer, or no hope of one. Raises ``GramhourError``."""
    request = build(http, caller, call)
    failures = 0
    while True:
        arrived = yield request
        assert arrived is not None
        failures += 1
        seconds = wait_before_next(caller.retries, failures, arrived)
        if seconds is None:
            return read_answer(call, arrived)
        yield Wait(seconds)


def converse(http: httpx.Client, steps: Conversation[T], sleep: Sleep) -> T:
    """Take the steps of a conversation."""
    came: Arrived | None = None
    while True:
        try:
            step = steps.send(came)
        except StopIteration as end:
            return end.value  # type: ignore[no-any-return]
        if isinstance(step, Wait):
            sleep(step.seconds)
            came = None
        else:
            came = carry(http, step)


async def aconverse(http: httpx.AsyncClient, steps: Conversation[T], sleep: AsyncSleep) -> T:
    """Take the steps of a conversation, others meanwhile."""
    came: Arrived | None = None
    while True:
        try:
            step = steps.send(came)
        except StopIteration as end:
            return end.value  # type: ignore[no-any-return]
        if isinstance(step, Wait):
            await sleep(step.seconds)
            came = None
        else:
            came = await acarry(http, step)


class Incoming:
    """Takes in the parts of one answer, up to what is too much or too late."""

    def __init__(self, request: httpx.Request) -> None:
        """Start the time that the whole may take."""
        self.status, self.headers, self._body = 0, httpx.Headers(), bytearray()
        self._whole: float | None = request.extensions.get(WHOLE)
        self._started = time.monotonic()

    def begin(self, response: httpx.Response) -> None:
        """Take in what comes before the body."""
        self.status, self.headers = response.status_code, response.headers

    def add(self, part: bytes) -> None:
        """Take in a part. Raises ``TooLarge`` and ``TooSlow``."""
        if len(self._body) + len(part) > MOST_BYTES_OF_ANSWER:
            raise TooLarge(f"more than {MOST_BYTES_OF_ANSWER} bytes")
        self._body += part
        if self._whole is not None and time.monotonic() - self._started > self._whole:
            raise TooSlow("")

    def arrived(self, broken: Exception | None = None) -> Arrived:
        """Say what came."""
        return Arrived(self.status, self.headers, bytes(self._body), broken)


def carry(http: httpx.Client, request: httpx.Request) -> Arrived:
    """Send a request and take in as much of its answer as comes."""
    incoming = Incoming(request)
    try:
        with closing(http.send(request, stream=True)) as response:
            incoming.begin(response)
            for part in response.iter_bytes():
                incoming.add(part)
    except OF_CARRYING as error:
        return incoming.arrived(error)
    except RuntimeError:  # what httpx says of a client that is closed
        if not http.is_closed:
            raise
        return incoming.arrived(Closed(""))
    return incoming.arrived()


async def acarry(http: httpx.AsyncClient, request: httpx.Request) -> Arrived:
    """Send a request and take in as much of its answer as comes, others meanwhile."""
    incoming = Incoming(request)
    try:
        async with aclosing(await http.send(request, stream=True)) as response:
            incoming.begin(response)
            async for part in response.aiter_bytes():
                incoming.add(part)
    except OF_CARRYING as error:
        return incoming.arrived(error)
    except RuntimeError:  # what httpx says of a client that is closed
        if not http.is_closed:
            raise
        return incoming.arrived(Closed(""))
    return incoming.arrived()


async def sleep_on_loop(seconds: float) -> None:
    """Wait while others go on."""
    await asyncio.sleep(seconds)

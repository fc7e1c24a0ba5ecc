"""Sends requests, and says again and again what came of it.

What to send and when is a conversation: a generator that asks for steps and is told how each
went. It is the same for both clients; each has its own small function that takes the steps.
"""

import asyncio
from collections.abc import Awaitable, Callable, Generator
from contextlib import aclosing, closing
from typing import NamedTuple, TypeAlias, TypeVar

import httpx

from gramhour.answers import read_answer
from gramhour.arrived import Arrived
from gramhour.building import Caller, Http, build
from gramhour.calls import Call
from gramhour.errors import OF_HTTPX
from gramhour.retries import wait_before_next

T = TypeVar("T")


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


def carry(http: httpx.Client, request: httpx.Request) -> Arrived:
    """Send a request and take in as much of its answer as comes."""
    status, headers, body = 0, httpx.Headers(), bytearray()
    try:
        with closing(http.send(request, stream=True)) as response:
            status, headers = response.status_code, response.headers
            for part in response.iter_bytes():
                body += part
    except OF_HTTPX as error:
        return Arrived(status, headers, bytes(body), error)
    return Arrived(status, headers, bytes(body))


async def acarry(http: httpx.AsyncClient, request: httpx.Request) -> Arrived:
    """Send a request and take in as much of its answer as comes, others meanwhile."""
    status, headers, body = 0, httpx.Headers(), bytearray()
    try:
        async with aclosing(await http.send(request, stream=True)) as response:
            status, headers = response.status_code, response.headers
            async for part in response.aiter_bytes():
                body += part
    except OF_HTTPX as error:
        return Arrived(status, headers, bytes(body), error)
    return Arrived(status, headers, bytes(body))


async def sleep_on_loop(seconds: float) -> None:
    """Wait while others go on."""
    await asyncio.sleep(seconds)

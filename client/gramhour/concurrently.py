"""Several batches at once, their answers in order; never more in memory than is under way."""

import asyncio
import time
from collections import deque
from collections.abc import (
    AsyncGenerator,
    AsyncIterable,
    AsyncIterator,
    Generator,
    Iterable,
    Iterator,
    Sequence,
)
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Event
from typing import Generic, NamedTuple, TypeAlias

import httpx

from gramhour.batches import MOST_REQUESTS, A, Batch, Came, Cutter, View, ask_batch
from gramhour.building import Caller
from gramhour.calls import Request
from gramhour.errors import GramhourError
from gramhour.resume import Resume
from gramhour.sending import AsyncSleep, Sleep, aconverse, converse

Requests: TypeAlias = Iterable[Request] | AsyncIterable[Request]


class Many(NamedTuple, Generic[A]):
    """How many quotes are asked for: the view, requests a batch, batches at once."""

    view: View[A]
    batch_size: int
    at_once: int
    resume: Resume

    def cutter(self) -> Cutter[A]:
        """Start cutting requests into batches."""
        return Cutter(self.batch_size, self.resume)


def sized(view: View[A], batch_size: int, at_once: int, resume: Resume | None) -> Many[A]:
    """Say how many quotes are asked for. Raises ``ValueError`` for what cannot be."""
    if not 1 <= batch_size <= MOST_REQUESTS:
        raise ValueError(f"batch_size must be from 1 to {MOST_REQUESTS}, not {batch_size}")
    if at_once < 1:
        raise ValueError(f"at_once must be 1 or more, not {at_once}")
    return Many(view, batch_size, at_once, resume or Resume())


def ask_many(
    http: httpx.Client, caller: Caller, requests: Iterable[Request], many: Many[A], sleep: Sleep
) -> Generator[A, None, None]:
    """Give the answers in order. Raises ``GramhourError`` with ``resume``."""
    given = many.resume.given
    stop = Event()
    pause = stop.wait if sleep is time.sleep else sleep  # whoever goes away need not wait
    under_way: deque[Future[Came[A]]] = deque()

    def ask(batch: Batch[A]) -> Came[A]:
        return converse(http, ask_batch(http, caller, batch, many.view, stop), pause)

    pool = ThreadPoolExecutor(many.at_once, "gramhour")
    try:
        for batch in _batches(requests, many.cutter()):
            if batch is not None:
                under_way.append(pool.submit(ask, batch))
            while under_way and (batch is None or len(under_way) >= many.at_once):
                came = under_way.popleft().result()
                for answer in came.in_order():
                    given += 1
                    yield answer
                if came.error is not None:
                    stop.set()
                    raise _broken_off(came, given, [each.result() for each in under_way])
    finally:
        stop.set()
        pool.shutdown(cancel_futures=True)


async def ask_many_async(
    http: httpx.AsyncClient, caller: Caller, requests: Requests, many: Many[A], sleep: AsyncSleep
) -> AsyncGenerator[A, None]:
    """Give the answers in order, others meanwhile. Raises ``GramhourError`` with ``resume``."""
    given = many.resume.given
    stop = Event()
    under_way: deque[asyncio.Task[Came[A]]] = deque()

    async def ask(batch: Batch[A]) -> Came[A]:
        return await aconverse(http, ask_batch(http, caller, batch, many.view, stop), sleep)

    try:
        async for batch in _batches_async(requests, many.cutter()):
            if batch is not None:
                under_way.append(asyncio.create_task(ask(batch)))
            while under_way and (batch is None or len(under_way) >= many.at_once):
                came = await under_way.popleft()
                for answer in came.in_order():
                    given += 1
                    yield answer
                if came.error is not None:
                    stop.set()
                    raise _broken_off(came, given, await asyncio.gather(*under_way))
    finally:
        for task in under_way:
            task.cancel()
        await asyncio.gather(*under_way, return_exceptions=True)


def _batches(requests: Iterable[Request], cutter: Cutter[A]) -> Iterator[Batch[A] | None]:
    """Cut requests into batches; ``None`` says that there are no more."""
    for request in requests:
        batch = cutter.add(request)
        if batch is not None:
            yield batch
    yield cutter.rest()
    yield None


async def _batches_async(requests: Requests, cutter: Cutter[A]) -> AsyncIterator[Batch[A] | None]:
    """Cut requests into batches; ``None`` says that there are no more."""
    if isinstance(requests, AsyncIterable):
        async for request in requests:
            batch = cutter.add(request)
            if batch is not None:
                yield batch
        yield cutter.rest()
        yield None
    else:
        for batch in _batches(requests, cutter):
            yield batch


def _broken_off(came: Came[A], given: int, others: Sequence[Came[A]]) -> GramhourError:
    """Say in the error what need not be asked again."""
    assert came.error is not None
    kept: dict[int, A] = {}
    for each in (came, *others):
        kept |= {number: answer for number, answer in each.answers.items() if number >= given}
    came.error.resume = Resume(given, kept)
    return came.error

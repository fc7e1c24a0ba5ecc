"""Several batches at once, their answers in order; never more in memory than is under way."""

import asyncio
import time
from collections import deque
from collections.abc import (
    AsyncGenerator,
    AsyncIterable,
    Awaitable,
    Generator,
    Iterable,
    Sequence,
)
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AsyncExitStack, aclosing, suppress
from threading import Event
from typing import Generic, NamedTuple, TypeAlias

import httpx

from gramhour.batches import MOST_REQUESTS, A, Batch, Came, View, ask_batch
from gramhour.building import Caller
from gramhour.calls import Request
from gramhour.cutting import Cutter
from gramhour.errors import GramhourError, UnexpectedAnswer
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
        return Cutter(self.view, self.batch_size, self.resume)


def sized(view: View[A], batch_size: int, at_once: int, resume: Resume | None) -> Many[A]:
    """Say how many quotes are asked for. Raises ``ValueError`` for what cannot be."""
    if not 1 <= batch_size <= MOST_REQUESTS:
        raise ValueError(f"batch_size must be from 1 to {MOST_REQUESTS}, not {batch_size}")
    if at_once < 1:
        raise ValueError(f"at_once must be 1 or more, not {at_once}")
    return Many(view, batch_size, at_once, resume or Resume())


class Giver(Generic[A]):
    """Gives answers in order, and says in an error what need not be asked again."""

    def __init__(self, resume: Resume) -> None:
        """Begin where it is gone on from."""
        self.given, self._kept = resume.given, resume.kept
        self.error: GramhourError | None = None

    def next(self, came: Came[A]) -> A | None:
        """Give the next answer of a batch; none at its end, or where it has an ``error``."""
        try:
            answer = came.read(self.given)
        except UnexpectedAnswer as error:
            self.error = error
            return None
        if answer is None:
            self.error = came.error
        else:
            self.given += 1
        return answer

    def broken_off(self, error: GramhourError, came: Sequence[Came[A]]) -> GramhourError:
        """Say in an error what was given, and what has come beyond it."""
        kept = {number: answer for number, answer in self._kept.items() if number >= self.given}
        for each in came:
            for number in each.answers:
                with suppress(UnexpectedAnswer):
                    answer = each.read(number) if number >= self.given else None
                    kept |= {} if answer is None else {number: answer}
        error.resume = Resume(self.given, kept)
        return error


def ask_many(
    http: httpx.Client, caller: Caller, requests: Iterable[Request], many: Many[A], sleep: Sleep
) -> Generator[A, None, None]:
    """Give the answers in order. Raises ``GramhourError`` with ``resume``."""
    giver = Giver[A](many.resume)
    stop = Event()
    pause = stop.wait if sleep is time.sleep else sleep  # whoever goes away need not wait
    under_way: deque[Future[Came[A]]] = deque()

    def ask(batch: Batch[A]) -> Came[A]:
        return converse(http, ask_batch(http, caller, batch, many.view, stop), pause)

    pool = ThreadPoolExecutor(many.at_once, "gramhour")
    try:
        for batch in _batches(requests, many.cutter()):
            if isinstance(batch, Batch):
                under_way.append(pool.submit(ask, batch))
            while _is_due(under_way, many.at_once, batch):
                came = under_way.popleft().result()
                while (answer := giver.next(came)) is not None:
                    yield answer
                if giver.error is not None:
                    stop.set()
                    rest = [each.result() for each in under_way]
                    raise giver.broken_off(giver.error, [came, *rest])
    finally:
        stop.set()
        pool.shutdown(cancel_futures=True)


async def ask_many_async(
    http: httpx.AsyncClient, caller: Caller, requests: Requests, many: Many[A], sleep: AsyncSleep
) -> AsyncGenerator[A, None]:
    """Give the answers in order, others meanwhile. Raises ``GramhourError`` with ``resume``."""
    giver = Giver[A](many.resume)
    stop = asyncio.Event()
    under_way: deque[asyncio.Task[Came[A]]] = deque()

    async def pause(seconds: float) -> None:
        await _first_of(sleep(seconds), stop.wait())

    async def ask(batch: Batch[A]) -> Came[A]:
        return await aconverse(http, ask_batch(http, caller, batch, many.view, stop), pause)

    try:
        async with aclosing(_batches_async(requests, many.cutter())) as batches:
            async for batch in batches:
                if isinstance(batch, Batch):
                    under_way.append(asyncio.create_task(ask(batch)))
                    await asyncio.sleep(0)  # so that it is sent while others are taken in
                while _is_due(under_way, many.at_once, batch):
                    came = await under_way.popleft()
                    while (answer := giver.next(came)) is not None:
                        yield answer
                    if giver.error is not None:
                        stop.set()
                        rest = await asyncio.gather(*under_way)
                        raise giver.broken_off(giver.error, [came, *rest])
    finally:
        for task in under_way:
            task.cancel()
        await asyncio.gather(*under_way, return_exceptions=True)


class End:
    """There are no more batches."""


Cut: TypeAlias = Batch[A] | End | None
"""A batch, none yet, or the end."""


def _is_due(
    under_way: Sequence[Future[Came[A]] | asyncio.Task[Came[A]]], at_once: int, last: Cut[A]
) -> bool:
    """Say whether the first batch is to be given now: it is there, or must be waited for."""
    if not under_way:
        return False
    return isinstance(last, End) or len(under_way) >= at_once or under_way[0].done()


def _batches(requests: Iterable[Request], cutter: Cutter[A]) -> Generator[Cut[A], None, None]:
    """Cut requests into batches, an item for each request.

    What the caller's own iterator raises comes after all that was before it.
    """
    trouble = None
    try:
        for request in requests:
            yield cutter.add(request)
    except Exception as error:
        trouble = error
    yield cutter.rest()
    yield End()
    if trouble is not None:
        raise trouble


async def _batches_async(requests: Requests, cutter: Cutter[A]) -> AsyncGenerator[Cut[A], None]:
    """Cut requests into batches, as ``_batches`` does; the caller's own generator is closed."""
    if not isinstance(requests, AsyncIterable):
        for batch in _batches(requests, cutter):
            yield batch
        return
    trouble = None
    async with AsyncExitStack() as stack:
        if isinstance(requests, AsyncGenerator):
            await stack.enter_async_context(aclosing(requests))
        try:
            async for request in requests:
                yield cutter.add(request)
        except Exception as error:
            trouble = error
        yield cutter.rest()
        yield End()
    if trouble is not None:
        raise trouble


async def _first_of(*awaited: Awaitable[object]) -> None:
    """Wait for the first of several, and leave the others."""
    tasks = [asyncio.ensure_future(each) for each in awaited]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            task.result()
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

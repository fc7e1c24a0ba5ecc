"""Asks one thing again and again on several connections for a while, and times each answer."""

import asyncio
import os
import time
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

import uvloop

PATIENCE = 10.0


class Served(NamedTuple):
    """What is asked: a port on this machine, and the process that answers there."""

    port: int
    process: int

    def cpu(self) -> float:
        """Say how many seconds of a core the process has used."""
        _, _, told = Path(f"/proc/{self.process}/stat").read_text().rpartition(")")
        user, system = told.split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def cpu_of_group(group: int) -> float:
    """Say how many seconds of a core the processes of a group have used, and those they ended."""
    used = 0
    for each in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # it ended meanwhile
            _, _, told = each.read_text().rpartition(")")
            fields = told.split()
            if int(fields[2]) == group:
                used += sum(map(int, fields[11:15]))
    return used / os.sysconf("SC_CLK_TCK")


class Load(NamedTuple):
    """Answers a second, how long each took, in milliseconds, in order, and what all of them say.

    ``cpu_us`` is what an answer took of a core of whoever answered.
    """

    per_second: float
    took: list[float]
    answer: bytes
    cpu_us: float

    def percentile(self, share: int) -> float:
        return self.took[min(len(self.took) - 1, len(self.took) * share // 100)]


class Caller(asyncio.Protocol):
    """A connection that asks as soon as it is answered, until the time is over."""

    def __init__(self, asked: bytes, end: float) -> None:
        self._asked, self._end = asked, end
        self._received, self._begun = b"", 0.0
        self.took: list[float] = []
        self.answer = b""
        self.is_done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._to: Any = None  # uvloop's transports are none of asyncio's

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._to = transport
        self._ask()

    def data_received(self, data: bytes) -> None:
        self._received += data
        head, found, body = self._received.partition(b"\r\n\r\n")
        if not found or len(body) < int(head.lower().split(b"content-length: ")[1].split()[0]):
            return
        self.answer = self.answer or body
        if not head.startswith(b"HTTP/1.1 200 ") or body != self.answer:
            self._end_with(AssertionError(self._received))
            return
        self.took.append(1000 * (time.perf_counter() - self._begun))
        self._received = b""
        if time.perf_counter() < self._end:
            self._ask()
        else:
            self._end_with(None)

    def connection_lost(self, exc: Exception | None) -> None:
        if not self.is_done.done():
            self.is_done.set_exception(exc or ConnectionError("closed too early"))

    def _ask(self) -> None:
        self._begun = time.perf_counter()
        self._to.write(self._asked)

    def _end_with(self, error: Exception | None) -> None:
        if error is None:
            self.is_done.set_result(None)
        else:
            self.is_done.set_exception(error)
        self._to.close()


def load(served: Served, asked: bytes, *, connections: int, seconds: float) -> Load:
    """Ask for so many seconds; the time until the last answer counts too."""

    async def ask() -> Load:
        loop = asyncio.get_running_loop()
        begun, used = time.perf_counter(), served.cpu()
        opened = [
            await loop.create_connection(
                lambda: Caller(asked, begun + seconds), "127.0.0.1", served.port
            )
            for _ in range(connections)
        ]
        callers = [caller for _, caller in opened]
        async with asyncio.timeout(seconds + PATIENCE):
            await asyncio.gather(*(caller.is_done for caller in callers))
        took = sorted(each for caller in callers for each in caller.took)
        (answer,) = {caller.answer for caller in callers}
        rate = len(took) / (time.perf_counter() - begun)
        return Load(rate, took, answer, 1e6 * (served.cpu() - used) / len(took))

    return uvloop.run(ask())

"""A repricing run: the listings in chunks, computed by worker processes, kept as they come.

The run itself is one process that writes; it holds a lock on a file for as long as it lives, so
that others can tell a run that goes on from one that broke off.
"""

import gc
import multiprocessing
import os
import signal
import time
from collections import Counter, deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from datetime import UTC, datetime
from functools import lru_cache
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Thread
from typing import Any

from msgspec import json
from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour_service.repricing.affected import skus_to_look_at
from gramhour_service.repricing.asking import ASKED
from gramhour_service.repricing.holding import lock_of
from gramhour_service.repricing.pricer import Pricer
from gramhour_service.repricing.ranges import keep_ranges
from gramhour_service.repricing.target import target_of
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.opening import (
    keep_in_memory,
    open_store,
    open_to_read,
    path_of,
    writing,
)
from gramhour_service.store.repricings import (
    LineRow,
    Row,
    add_lines,
    computed_skus,
    end,
    pause,
    repricing_of,
    set_lines,
)
from gramhour_service.store.trouble import StoreTrouble

LEAST, MOST = 250, 4_000
"""Listings of a chunk: the more there are, the more of them are alike and priced at once."""
CHUNKS_OF_EACH = 4
"""So many chunks each process computes at least, for the sake of those that watch."""
FEW = 1_000
"""So many listings are computed sooner than processes for them start."""
AHEAD = 2
"""So many chunks are given to each process before the first of them is written."""
BETWEEN_WRITINGS = 0.5
GARBAGE_LOOKED_FOR = 1_000_000
"""So many new objects before they are looked through for cycles."""
WAIT_SECONDS = 60.0
"""A run waits longer for other writers than a caller does."""
MEBIBYTES_AT_HAND = 64
"""A line goes to several places; with the usual 2 that takes half as long again."""
COUNTS = json.Decoder(dict[str, int])
Sent = list[tuple[Any, ...]]
"""Lines as processes send them to each other: with names it takes three times as long."""


class Paused(Exception):
    """The run is told to pause; what it has is kept."""


def run(
    path: Path,
    name: str,
    processes: int,
    told: Callable[[int], None] = lambda _: None,
    pauses: Callable[[], bool] = lambda: False,
) -> None:
    """Compute what is left of a repricing that was asked for; ``told`` hears how many are done.

    What goes wrong is kept as its end. ``pauses`` is asked at the end of a chunk. Whoever calls
    holds its lock.
    """
    store = open_store(path, wait=WAIT_SECONDS)
    keep_in_memory(store, MEBIBYTES_AT_HAND)
    try:
        _run(store, name, processes, told, pauses)
    except Paused:
        with writing(store):
            pause(store, name)
    except (Refused, StoreTrouble) as trouble:
        _failed(store, name, str(trouble))
    except BrokenProcessPool:
        _failed(store, name, "a process that computed it was ended; make a new one")
    except Exception:
        _failed(store, name, "the service has a fault; it is logged")
        raise
    finally:
        store.close()
        lock_of(path, name).unlink(missing_ok=True)


def _failed(store: Database, name: str, says: str) -> None:
    with writing(store):
        end(store, name, "failed", _now(), says)


def _run(
    store: Database,
    name: str,
    processes: int,
    told: Callable[[int], None],
    pauses: Callable[[], bool],
) -> None:
    row = repricing_of(store, name)
    assert row is not None, "it was added before it is run"
    asked = ASKED.decode(row.asked)
    target = target_of(store, asked, datetime.fromisoformat(row.asked_at))
    skus = _left(store, row, skus_to_look_at(store, Sheets(store), asked, target))
    done, counts = row.done, Counter(COUNTS.decode(row.counts))
    with writing(store):
        set_lines(store, name, done + len(skus))
    for rows in _gathered(_computed(path_of(store), row, skus, processes)):
        with writing(store):
            add_lines(store, name, rows, _counted(counts, rows))
        done += len(rows)
        told(done)
        if pauses():
            raise Paused
    with writing(store):
        set_lines(store, name, done)  # what was taken away meanwhile has no line
        keep_ranges(store, name)
        end(store, name, "finished", _now())


def _left(store: Database, row: Row, skus: list[str]) -> list[str]:
    """Leave out what a run had computed when it was paused."""
    if not row.done:
        return skus
    there = computed_skus(store, row.id)
    return [sku for sku in skus if sku not in there]


def _counted(counts: Counter[str], rows: list[LineRow]) -> Counter[str]:
    """Count lines by outcome, and those under their floor, on top of what was counted."""
    counts.update(row.outcome for row in rows)
    counts["under_floor"] += sum(row.under_floor for row in rows)
    counts["under_floor_if_kept"] += sum(row.under_floor_if_kept for row in rows)
    return counts


def _gathered(chunks: Iterator[list[LineRow]]) -> Iterator[list[LineRow]]:
    """Gather what came within half a second: each writing waits for the disk."""
    gathered: list[LineRow] = []
    since = time.monotonic()
    for chunk in chunks:
        gathered += chunk
        if time.monotonic() - since >= BETWEEN_WRITINGS:
            yield gathered
            gathered, since = [], time.monotonic()
    if gathered:
        yield gathered


def _computed(path: Path, row: Row, skus: list[str], processes: int) -> Iterator[list[LineRow]]:
    """Compute lines in chunks: a few here, many in worker processes."""
    each = min(MOST, max(LEAST, len(skus) // (CHUNKS_OF_EACH * processes)))
    chunks = [skus[n : n + each] for n in range(0, len(skus), each)]
    if len(skus) <= FEW or processes <= 1:
        yield from (_compute(path, row, chunk) for chunk in chunks)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, context, initializer=_end_with_the_run) as pool:
        ahead: deque[Future[Sent]] = deque()
        for chunk in chunks:
            ahead.append(pool.submit(_sent, path, row, chunk))
            if len(ahead) > AHEAD * processes:  # no more lines than that wait to be written
                yield [*map(LineRow._make, ahead.popleft().result())]
        while ahead:
            yield [*map(LineRow._make, ahead.popleft().result())]


def _end_with_the_run() -> None:
    """See to it that a worker process ends when the one that it computes for does, not sooner.

    What pricing makes is dropped as soon as it is no longer referred to; looking for cycles in it
    every few hundred objects costs a tenth of the time, and finds none.
    """
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    gc.set_threshold(GARBAGE_LOOKED_FOR)
    run = multiprocessing.parent_process()
    assert run is not None, "a worker process has a parent"
    Thread(target=_end_after, args=(run,), daemon=True).start()


def _end_after(run: BaseProcess) -> None:
    run.join()
    os._exit(1)


def _sent(path: Path, row: Row, skus: list[str]) -> Sent:
    return [tuple(line) for line in _compute(path, row, skus)]


def _compute(path: Path, row: Row, skus: list[str]) -> list[LineRow]:
    return _pricer(path, row).lines(skus)


@lru_cache(maxsize=1)
def _pricer(path: Path, row: Row) -> Pricer:
    """Make what prices listings; a process makes it once a run."""
    store = open_to_read(path)
    asked = ASKED.decode(row.asked)
    return Pricer(store, target_of(store, asked, datetime.fromisoformat(row.asked_at)))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")

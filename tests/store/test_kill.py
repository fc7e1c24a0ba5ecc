"""A process that is killed loses nothing that it told was saved, and leaves nothing by halves.

Killed is the process, not the machine: a power cut is not tried here.
"""

import signal
import sqlite3
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

import pytest

from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision
from tests.forked import FORKS, Forked
from tests.store.importer import MATERIALS, import_for_ever

KILLS = 30
RATES = MATERIALS + 1  # and an hour's cost
FIRST_ONLY = 2  # currency and price of energy, which never change


@contextmanager
def importing(path: Path) -> Iterator[tuple[Forked, Connection]]:
    """Let a process take in sheets until it is killed, and hear of each that is saved."""
    heard, told = FORKS.Pipe(duplex=False)
    process = Forked(import_for_ever, path, told)
    told.close()
    with heard:
        try:
            assert heard.recv() == 0
            yield process, heard
        finally:
            process.kill()
            process.wait()


def kill(process: Forked, heard: Connection) -> list[int]:
    """Kill it, and list what it told that was not yet heard."""
    process.kill()
    assert process.wait() == -signal.SIGKILL
    return list(heard_to_the_end(heard))


def heard_to_the_end(heard: Connection) -> Iterator[int]:
    with suppress(EOFError):
        while True:
            yield heard.recv()


def kill_at_a_random_moment(path: Path, random: Random) -> list[int]:
    """Let a process take in sheets for a while, kill it, and list the revisions that it told."""
    with importing(path) as (process, heard):
        told = [heard.recv() for _ in range(random.randint(0, 4))]
        time.sleep(random.uniform(0, 0.03))
        return told + kill(process, heard)


def check_whole(path: Path) -> int:
    """Check what any other program sees of a store; say how many revisions there are."""
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        numbers = [number for (number,) in plain.execute("SELECT number FROM revision ORDER BY 1")]
        assert numbers == list(range(1, len(numbers) + 1))
        rows = plain.execute(
            "SELECT revision, count(*), count(DISTINCT figure), max(figure) FROM ("
            " SELECT revision, CASE code WHEN 'currency' THEN NULL WHEN 'price_per_kwh' THEN NULL"
            " ELSE coalesce(value ->> '$.price_per_kg', value ->> '$') END AS figure"
            " FROM rate_change) GROUP BY revision ORDER BY revision"
        ).fetchall()
    expected = [(number, RATES, 1, str(number)) for number in numbers]
    expected[:1] = [(1, RATES + FIRST_ONLY, 1, "1")] if numbers else []
    assert rows == expected
    return len(numbers)


def test_kills_lose_no_revision_that_was_told_and_leave_no_half_one(path: Path) -> None:
    random = Random()
    open_store(path, create=True).close()
    saved, seen = 0, Counter[str]()
    for _ in range(KILLS):
        told = kill_at_a_random_moment(path, random)
        seen["left a log"] += Path(f"{path}-wal").exists()
        assert told == list(range(saved + 1, saved + 1 + len(told)))
        now = check_whole(path)
        # One more may have been saved and not told yet.
        assert now - saved - len(told) in {0, 1}
        seen["told"] += len(told)
        seen["before the first"] += not told
        saved = now
        with closing(open_store(path)) as store:
            assert newest_revision(store) == saved
    assert seen["told"] > KILLS
    assert seen["left a log"] > KILLS / 2


@pytest.mark.parametrize("attempt", range(10))
def test_a_store_whose_making_was_killed_can_be_made_again(path: Path, attempt: int) -> None:
    with importing(path) as (process, heard):
        time.sleep(attempt / 1000)
        told = kill(process, heard)
    with closing(open_store(path, create=True)) as store:
        assert newest_revision(store) - len(told) in {0, 1}
    check_whole(path)

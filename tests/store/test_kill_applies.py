"""A process killed while it sends listings, reprices and applies loses nothing that it told.

What it had not told is there as a whole or not at all. Killed is the process, not the machine.
"""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random

from sqlite_utils import Database

from gramhour_service.listings.keeping import put_product
from gramhour_service.repricing.told import state_of
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store, writing
from gramhour_service.store.repricings import repricing_of
from tests.store.applier import PRICED, Saved, saved, send_rows
from tests.store.offered import ground, product
from tests.store.shops import NOON, sheet

ROOT = Path(__file__).parent.parent.parent
KILLS = 40
MOST_TOLD, LONGEST = 3, 0.08


class Appliers:
    """Processes that work on a shop, one after the other."""

    def __init__(self, process: subprocess.Popen[str], path: Path) -> None:
        self.process, self.path = process, path

    def line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def killed_after(self, told: int, seconds: float) -> list[tuple[str, int]]:
        """Let one tell so many, work for a while more, kill it, and list what it told."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{self.path}\n")
        self.process.stdin.flush()
        child = int(self.line())
        lines = [self.line() for _ in range(told)]
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        while not (line := self.line()).startswith("ended"):
            lines.append(line)
        assert line == f"ended -{signal.SIGKILL.value}"
        return [(what, int(figure)) for what, figure in map(str.split, lines)]


@contextmanager
def appliers(path: Path) -> Iterator[Appliers]:
    pipe, command = subprocess.PIPE, [sys.executable, "-m", "tests.store.applier"]
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, cwd=ROOT) as process:
        try:
            yield Appliers(process, path)
        finally:
            process.communicate()


def make_shop(path: Path) -> None:
    """Make a store with a product and its listings, which are the first post of rows."""
    channels = {"own-shop": {"prices_include_tax": False, "aim": {"margin_pct": 40}}}
    rates = sheet(31, channels=channels)
    with closing(open_store(path, create=True)) as store:
        import_sheet(store, rates, now=NOON, made_by="ada")
        with writing(store):
            put_product(ground(store), "pot", product())
        send_rows(store, 1)


def check_rows(plain: sqlite3.Connection, posts: int) -> None:
    """Check that each post of rows is there with all of them, and the last one in force."""
    noted = "SELECT CAST(value ->> '$.note' AS INTEGER)"
    kept = plain.execute(
        f"{noted}, count(*) FROM entry_version WHERE kind = 'listing' GROUP BY 1 ORDER BY 1"
    ).fetchall()
    assert kept == [(figure, len(PRICED) + 1) for figure in range(1, posts + 1)]
    in_force = plain.execute(f"{noted}, count(*) FROM listing WHERE sku LIKE 'P-%' GROUP BY 1")
    assert in_force.fetchall() == [(posts, len(PRICED))]


def check_prices(plain: sqlite3.Connection, applied: int) -> None:
    """Check that each repricing applied lists all of its prices, numbered without a gap."""
    rows = plain.execute(
        "SELECT CAST(note AS INTEGER), count(*), count(DISTINCT sku), min(change), max(change)"
        " FROM price_change GROUP BY 1 ORDER BY 1"
    ).fetchall()
    each, answers = len(PRICED), range(1, applied + 1)
    assert rows == [(n, each, each, each * (n - 1) + 1, each * n) for n in answers]
    kept = plain.execute(
        "SELECT CAST(idempotency_key AS INTEGER), CAST(answer AS TEXT) FROM answered_call"
        " ORDER BY 1"
    ).fetchall()
    assert kept == [(n, str(each * n)) for n in answers]


def check_repricings(plain: sqlite3.Connection, store: Database, path: Path) -> Counter[str]:
    """Check that repricings say of themselves what is so; count how they stand."""
    assert plain.execute(
        "SELECT count(*) FROM repricing WHERE ended IS NOT NULL AND done <> lines"
    ).fetchone() == (0,)
    assert plain.execute(
        "SELECT count(*) FROM repricing r WHERE done <>"
        " (SELECT count(*) FROM repricing_line WHERE repricing = r.id)"
    ).fetchone() == (0,)
    states = Counter[str]()
    for (name,) in plain.execute("SELECT id FROM repricing"):
        row = repricing_of(store, name)
        assert row is not None
        states[state_of(path, row)] += 1
    assert states.keys() <= {"applied", "finished", "broken_off"}
    return states


def check_whole(path: Path) -> tuple[Saved, Counter[str]]:
    """Check what any other program sees of a store; count what is there."""
    with closing(sqlite3.connect(path)) as plain, closing(open_store(path)) as store:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        there = saved(store)
        check_rows(plain, there.rows)
        check_prices(plain, there.applied)
        return there, check_repricings(plain, store, path)


def test_kills_lose_no_rows_rates_or_prices_that_were_told_and_leave_no_half_ones(
    path: Path,
) -> None:
    random, seen = Random(), Counter[str]()
    make_shop(path)
    before, states = check_whole(path)
    with appliers(path) as of_them:
        for _ in range(KILLS):
            told = of_them.killed_after(random.randint(0, MOST_TOLD), random.uniform(0, LONGEST))
            seen["left a log"] += Path(f"{path}-wal").exists()
            after, states = check_whole(path)
            for what, had in before._asdict().items():
                figures = [figure for each, figure in told if each == what]
                assert figures == list(range(had + 1, had + 1 + len(figures)))
                seen[what] += len(figures)
            # One more may have been saved and not told yet.
            assert sum(after) - sum(before) - len(told) in {0, 1}
            last = {**before._asdict(), **dict(told)}
            assert all(has >= last[what] for what, has in after._asdict().items())
            before = after
    assert min(seen[what] for what in Saved._fields) > KILLS / 6
    assert seen["left a log"] > KILLS / 2
    assert states["broken_off"] > 0

"""A process that is killed while it changes rates loses no change that it told, and halves none."""

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

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store
from tests.store.changer import MATERIALS
from tests.store.shops import NOON, filament, sheet

ROOT = Path(__file__).parent.parent.parent
KILLS = 30
LONGEST = 0.03
FIGURES = """
    SELECT revision, count(*), min(figure), max(figure) FROM (
        SELECT revision, coalesce(value ->> '$.price_per_kg', value ->> '$') AS figure
        FROM rate_change WHERE revision > 1
    ) GROUP BY revision ORDER BY revision
"""


class Changers:
    """Processes that change rates, one after the other."""

    def __init__(self, process: subprocess.Popen[str], path: Path) -> None:
        self.process, self.path = process, path

    def line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def killed_after(self, some: int, seconds: float) -> list[int]:
        """Let one tell some revisions and work on, kill it, and list those that it told."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{self.path}\n")
        self.process.stdin.flush()
        child = int(self.line())
        told = [int(self.line()) for _ in range(some)]
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        while not (line := self.line()).startswith("ended"):
            told.append(int(line))
        assert line == f"ended -{signal.SIGKILL.value}"
        return told


@contextmanager
def changers(path: Path) -> Iterator[Changers]:
    pipe, command = subprocess.PIPE, [sys.executable, "-m", "tests.store.changer"]
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, cwd=ROOT) as process:
        try:
            yield Changers(process, path)
        finally:
            process.communicate()


def check_whole(path: Path) -> int:
    """Check what any other program sees of a store; say how many revisions there are."""
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        newest: int
        (newest,) = plain.execute("SELECT max(number) FROM revision").fetchone()
        rows = plain.execute(FIGURES).fetchall()
        kept = plain.execute(
            "SELECT CAST(idempotency_key AS INTEGER), status, CAST(answer AS TEXT)"
            " FROM answered_call ORDER BY 1"
        ).fetchall()
    numbers = range(2, newest + 1)
    sizes = {number: 1 if number % 3 == 0 else MATERIALS + 1 for number in numbers}
    assert rows == [(number, size, str(number), str(number)) for number, size in sizes.items()]
    assert kept == [(number, 201, str(number)) for number in numbers if number % 3]
    return newest


def test_kills_lose_no_change_that_was_told_and_leave_no_half_one(path: Path) -> None:
    random, seen, saved = Random(), Counter[str](), 1
    with closing(open_store(path, create=True)) as store:
        materials = {f"m{n}": filament(1) for n in range(MATERIALS)}
        import_sheet(store, sheet(1, materials=materials), now=NOON, made_by="ada")
    with changers(path) as of_them:
        for _ in range(KILLS):
            told = of_them.killed_after(random.randint(0, 4), random.uniform(0, LONGEST))
            seen["left a log"] += Path(f"{path}-wal").exists()
            assert told == list(range(saved + 1, saved + 1 + len(told)))
            now = check_whole(path)
            # One more may have been saved and not told yet.
            assert now - saved - len(told) in {0, 1}
            seen["told"] += len(told)
            saved = now
    assert seen["told"] > KILLS
    assert seen["left a log"] > KILLS / 2

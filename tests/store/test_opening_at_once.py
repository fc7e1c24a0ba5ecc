"""Processes that make a store at the same moment make one, and all of them can use it."""

import sqlite3
import subprocess
import sys
import time
from collections import Counter
from contextlib import closing
from itertools import chain
from pathlib import Path

from gramhour_service.store.schema import APPLICATION_ID, KNOWN_MIGRATIONS

ROOT = Path(__file__).parent.parent.parent
PROCESSES = 3
STORES = 120


def test_processes_that_make_a_store_at_once_make_one_sound_store(tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.sqlite" for n in range(STORES)]
    command = [sys.executable, "-m", "tests.store.opener", *map(str, paths)]
    pipe = subprocess.PIPE
    all_of_them = [
        subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, cwd=ROOT)
        for _ in range(PROCESSES)
    ]
    for process in all_of_them:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    moment = f"{time.time() + 0.1}\n"
    for process in all_of_them:
        assert process.stdin is not None
        process.stdin.write(moment)
        process.stdin.flush()
    told = [process.communicate()[0].splitlines() for process in all_of_them]
    for path in paths:
        with closing(sqlite3.connect(path)) as plain:
            assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert plain.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
            assert plain.execute("PRAGMA journal_mode").fetchone() == ("wal",)
            applied = plain.execute("SELECT name FROM _sqlite_migrations").fetchall()
            assert applied == [(name,) for name in sorted(KNOWN_MIGRATIONS)]
    assert Counter(chain(*told)) == {"opened": PROCESSES * STORES}

"""Run as a program with mounts of its own: a service whose disk is full, or not to be written.

What is found wrong is raised; what was seen is printed, a line each.
"""

import logging
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from gramhour_service.http.examples import HERB_PLANTER
from gramhour_service.http.settings import Settings
from gramhour_service.store.opening import open_store
from tests.http.asking import DEARER, LABOUR, change, newest, put, seen, tag_of, value_of
from tests.http.door import Door, make_shop, opened, problem_of

SIZE = "2m"


def mount(*arguments: str) -> None:
    subprocess.run(["mount", *arguments], check=True)


def fill(folder: Path) -> Path:
    """Leave no space, as something else on the disk does."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        for size in (65536, 512, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                continue
    return filler


def quotes(door: Door) -> int:
    return door.ask("POST", "/v1/quotes", "cost", json=HERB_PLANTER).status_code


def check_sound(path: Path) -> None:
    with closing(open_store(path)) as store:
        assert store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert store.execute("PRAGMA foreign_key_check").fetchall() == []


def full(folder: Path) -> None:
    """Fill the disk while the service runs; make room; go on."""
    mount("-t", "tmpfs", "-o", f"size={SIZE}", "none", str(folder))
    path = make_shop(folder / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        assert change(door, DEARER, word="first").status_code == 201
        filler = fill(folder)
        note = "x" * 2000
        large = [{"kind": "materials", "code": f"m{n}", "value": {"price_per_kg": 1, "note": note}}
                 for n in range(500)]  # fmt: skip
        for _ in range(3):
            refused = change(door, *large, based_on=2, word="second")
            sys.stdout.write(f"{refused.status_code} {problem_of(refused)[0]}\n")
            one = put(door, LABOUR, "40", seen(tag_of(door, LABOUR)), note=note)
            sys.stdout.write(f"one: {one.status_code}\n")
            assert quotes(door) == 200
            assert newest(door) in (2, 3)
        filler.unlink()
        before = newest(door)
        assert change(door, DEARER, word="first").json()["rates_revision"] == 2
        assert change(door, *large[:50], based_on=before, word="second").status_code == 201
        assert newest(door) == before + 1
    check_sound(path)


def read_only(folder: Path) -> None:
    """Start the service on a store that no one may write."""
    path = make_shop(folder / "gramhour.sqlite")
    mount("--bind", str(folder), str(folder))
    mount("-o", "remount,bind,ro", str(folder))
    os.chdir("/")
    with opened(Settings(store=path)) as door:
        answers_without_writing(door)


def read_only_since_the_start(folder: Path) -> None:
    """Take the right to write from the store while the service runs, which has files open."""
    path = make_shop(folder / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        assert quotes(door) == 200
        mount("--bind", str(folder), str(folder))
        mount("-o", "remount,bind,ro", str(folder))
        answers_without_writing(door)


def answers_without_writing(door: Door) -> None:
    sys.stdout.write(f"quote: {quotes(door)}\n")
    sys.stdout.write(f"rate: {value_of(door, LABOUR)}\n")
    for refused in (change(door, DEARER), put(door, LABOUR, "40", seen('"r1@2026-12-01"'))):
        kind, faults = problem_of(refused)
        sys.stdout.write(f"{refused.status_code} {kind} {[f['detail'] for f in faults]}\n")
    sys.stdout.write(f"quote: {quotes(door)}\n")


WAYS = {each.__name__: each for each in (full, read_only, read_only_since_the_start)}

if __name__ == "__main__":
    logging.basicConfig(level=logging.ERROR)
    WAYS[sys.argv[1]](Path(sys.argv[2]))

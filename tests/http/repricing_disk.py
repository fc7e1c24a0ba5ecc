"""Run as a program with mounts of its own: a shop with listings whose disk is full, or read-only.

What is found wrong is raised; what was seen is printed, a line each.
"""

import logging
import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from gramhour.contract.repricing import RepricingRequest
from gramhour_service.http.settings import Settings
from gramhour_service.repricing.asking import add_asked, new_name
from gramhour_service.repricing.holding import lock_of
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store, writing
from tests.http.disk import check_sound, fill, mount
from tests.http.door import NOW, Door, opened
from tests.http.offering import LISTINGS, POT, POT_ENTRY, post_rows, put_entry
from tests.http.stocked import (
    PATIENCE,
    REPRICINGS,
    apply,
    buyer_is_told,
    lines,
    make_stock,
    newest_change,
    refusal,
    reprice,
    repricing,
    rows,
    seen,
)

SIZE = "16m"
MANY = 300
"""More lines than fit into the room that is left, and fewer than would be computed elsewhere."""
ROOM = 96 * 1024


Leave = Callable[[int], Path]
"""Leaves so much room, and says what fills the rest."""
Use = Callable[[Door, str, Leave], None]
"""Uses a shop in which a sale was computed."""


def leave(folder: Path, path: Path, room: int) -> Path:
    """Leave no more room than that, neither on the disk nor in the store's log."""
    with closing(sqlite3.connect(path)) as plain:
        told = plain.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert told == (0, 0, 0)
    filler = fill(folder)
    os.truncate(filler, filler.stat().st_size - room)
    return filler


def full(folder: Path, use: Use, listings: int) -> None:
    """Use a shop on a small disk."""
    mount("-t", "tmpfs", "-o", f"size={SIZE}", "none", str(folder))
    path = folder / "gramhour.sqlite"
    name = make_stock(path, listings)
    with opened(Settings(store=path)) as door:
        use(door, name, lambda room: leave(folder, path, room))
    check_sound(path)


def send_rows(door: Door, _sale: str, leave: Leave) -> None:
    filler = leave(0)
    for _ in range(3):
        seen(refusal(post_rows(door, rows(0, MANY), word="once")))
        buyer_is_told(door)
        page = door.ask("GET", f"{LISTINGS}?limit=1000", "listings").json()
        assert [each["sku"] for each in page["items"]] == ["P-0", "P-1"]
    filler.unlink()
    for _ in range(2):
        told = post_rows(door, rows(0, MANY), word="once").json()
        assert (told["added"], told["unchanged"]) == (MANY - 2, 2)


def run(door: Door, name: str, leave: Leave) -> None:
    filler, before = leave(0), newest_change(door)
    seen(refusal(door.ask("POST", REPRICINGS, "listings", json={"over": "all"})))
    os.truncate(filler, filler.stat().st_size - ROOM)
    broken = reprice(door, over="all")
    seen(f"{broken['state']}: {broken['says']}")
    buyer_is_told(door)
    assert broken["done"] == lines(door, broken["id"]) < MANY
    assert refusal(apply(door, broken["id"])).startswith("409 not-applicable")
    filler.unlink()
    assert repricing(door, broken["id"])["state"] == broken["state"]
    new = reprice(door, over="all")
    assert (new["state"], new["done"], lines(door, new["id"])) == ("finished", MANY, MANY)
    assert apply(door, name).json()["change"] == before + MANY


def apply_all(door: Door, name: str, leave: Leave) -> None:
    before, filler = newest_change(door), leave(0)
    for _ in range(3):
        seen(refusal(apply(door, name)))
        buyer_is_told(door)
        assert newest_change(door) == before
        assert repricing(door, name)["state"] == "finished"
        assert lines(door, name) == MANY
    filler.unlink()
    for _ in range(2):
        told = apply(door, name).json()
        assert (told["applied"], told["change"]) == (MANY, before + MANY)
    assert repricing(door, name)["state"] == "applied"


def make_read_only(folder: Path) -> None:
    """Take the right to write away, once the run before has closed its files."""
    mount("--bind", str(folder), str(folder))
    until = time.monotonic() + PATIENCE
    while subprocess.run(["mount", "-o", "remount,bind,ro", folder], check=False).returncode:
        assert time.monotonic() < until
        time.sleep(0.02)
    os.chdir("/")


def read_only(folder: Path) -> None:
    """Start the service on a shop that no one may write."""
    path = folder / "gramhour.sqlite"
    name = make_stock(path, 2)
    make_read_only(folder)
    with opened(Settings(store=path)) as door:
        answers_without_writing(door, name)


def read_only_since_the_start(folder: Path) -> None:
    """Take the right to write from the store while the service runs."""
    path = folder / "gramhour.sqlite"
    name = make_stock(path, 2)
    with opened(Settings(store=path)) as door:
        buyer_is_told(door)
        make_read_only(folder)
        answers_without_writing(door, name)


def read_only_with_a_run_that_broke_off(folder: Path) -> None:
    """Leave behind what a killed run does, and take the right to write away."""
    path = folder / "gramhour.sqlite"
    make_stock(path, 2)
    with closing(open_store(path)) as store, writing(store):
        name = add_asked(store, new_name(), RepricingRequest(), Written("ada", NOW)).id
    lock_of(path, name).touch(0o600)
    make_read_only(folder)
    with opened(Settings(store=path)) as door:
        seen(repricing(door, name)["state"])
        assert door.ask("GET", REPRICINGS, "listings").status_code == 200


def answers_without_writing(door: Door, name: str) -> None:
    """Ask for all that is read, then for all that is written."""
    buyer_is_told(door)
    assert newest_change(door) == lines(door, name) == 2
    assert repricing(door, name)["state"] == "finished"
    for path in (LISTINGS, f"{LISTINGS}/P-0", "/v1/products", POT, REPRICINGS):
        assert door.ask("GET", path, "listings").status_code == 200
    held = {"product": "pot", "channel": "own-shop", "hold": True}
    for refused in (
        post_rows(door, rows(0, 3)),
        put_entry(door, f"{LISTINGS}/P-9", held, {"If-None-Match": "*"}),
        put_entry(door, "/v1/products/lid", POT_ENTRY, {"If-None-Match": "*"}),
        door.ask("POST", REPRICINGS, "listings", json={"over": "all"}),
        apply(door, name),
    ):
        seen(refusal(refused))
    buyer_is_told(door)
    assert newest_change(door) == 2


WAYS: dict[str, Callable[[Path], None]] = {
    "rows": lambda folder: full(folder, send_rows, 2),
    "run": lambda folder: full(folder, run, MANY),
    "apply": lambda folder: full(folder, apply_all, MANY),
    **{
        each.__name__: each
        for each in (read_only, read_only_since_the_start, read_only_with_a_run_that_broke_off)
    },
}

if __name__ == "__main__":
    logging.basicConfig(level=logging.ERROR)
    WAYS[sys.argv[1]](Path(sys.argv[2]))

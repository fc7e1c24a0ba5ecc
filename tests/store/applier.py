"""Run as a program: for each line read it forks, and the child works until it is killed.

It changes the hour's cost, sends rows of listings, reprices and applies, in turns; what comes next
is read from the store. Each is told once it is saved: what it was, and the figure that all of its
parts have, so that half of one would be seen.
"""

import os
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple

from sqlite_utils import Database

from gramhour.contract.repricing import ApplyRequest, RepricingRequest
from gramhour_service.listings.keeping import Ground
from gramhour_service.listings.rows import SentRow, put_rows
from gramhour_service.repricing.applying import apply
from gramhour_service.repricing.asking import add_asked, new_name
from gramhour_service.repricing.holding import held
from gramhour_service.repricing.running import run
from gramhour_service.sheets.changing import change_rate
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.answered import Answer, Call, keep_answer
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store, path_of, writing
from gramhour_service.store.rates import newest_revision
from gramhour_service.store.repricings import repricing_of
from tests.store.shops import NOON, TODAY

PRICED = [f"P-{n}" for n in range(20)]
ROUTE = "/v1/repricings/apply"
WRITTEN = Written("ada", NOON)


class Saved(NamedTuple):
    """How many there are: revisions of rates, posts of rows, repricings applied."""

    rates: int
    rows: int
    applied: int


def saved(store: Database) -> Saved:
    """Count what is in a store."""
    (rows,) = store.execute("SELECT count(*) FROM listing WHERE sku LIKE 'NEW-%'").fetchone()
    (applied,) = store.execute(
        "SELECT count(*) FROM repricing WHERE applied_at IS NOT NULL"
    ).fetchone()
    return Saved(newest_revision(store), rows, applied)


def send_rows(store: Database, figure: int, today: date = TODAY, now: datetime = NOON) -> None:
    """Change all listings, and add one."""
    in_force = Sheets(store).pinned(now).in_force
    ground = Ground(store, in_force.sheet, in_force.kept, today, WRITTEN)
    skus = [*PRICED, f"NEW-{figure}"]
    rows: list[dict[str, Any]] = [
        {"sku": sku, "product": "pot", "channel": "own-shop", "note": str(figure)} for sku in skus
    ]
    put_rows(ground, "listing", [SentRow(row) for row in rows], all_or_none=True)


def change_rates(store: Database, figure: int) -> None:
    """Make an hour dearer and cheaper in turns: all prices move, and none by too much."""
    hour = ("shop", "labour_rate_per_hour")
    change_rate(store, hour, 30 + figure % 2, Dated(NOON, "ada"), lambda _: None)


def reprice(store: Database, figure: int) -> None:
    """Reprice the listings that all posts have, apply that, and keep the answer with it."""
    with writing(store):
        name = add_asked(store, new_name(), RepricingRequest(skus=PRICED), WRITTEN).id
    with held(path_of(store), name):
        run(path_of(store), name, processes=1)
    call = Call("ada", ROUTE, str(figure), b"")
    with writing(store):
        row = repricing_of(store, name)
        assert row is not None
        done = apply(store, row, ApplyRequest(note=str(figure)), TODAY, WRITTEN)
        keep_answer(store, call, Answer(200, str(done.change).encode()), NOON)


def work_for_ever(path: Path) -> None:
    """Do in turns what there is to do, and tell each."""
    store = open_store(path)
    while True:
        rates, rows, applied = saved(store)
        if rates == applied + 1:
            what, figure, work = "rates", rates + 1, change_rates
        elif rows == applied + 1:
            what, figure, work = "rows", rows + 1, send_rows
        else:
            what, figure, work = "applied", applied + 1, reprice
        work(store, figure)
        os.write(1, f"{what} {figure}\n".encode())


def main() -> None:
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.write(1, f"{os.getpid()}\n".encode())
            work_for_ever(Path(line.strip()))
        _, status = os.waitpid(child, 0)
        os.write(1, f"ended {os.waitstatus_to_exitcode(status)}\n".encode())


if __name__ == "__main__":
    main()

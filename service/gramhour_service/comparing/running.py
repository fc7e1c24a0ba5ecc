"""A comparison too large to be answered at once: kept in the store, computed by its own process.

The process holds a file locked for as long as it lives, as a repricing does, which is how anybody
tells a run that goes on from one that broke off.
"""

import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from msgspec import UNSET, json
from sqlite_utils import Database

from gramhour.contract.compared import Comparison, ComparisonRun
from gramhour.contract.problem import Refused
from gramhour.contract.workload import Workload
from gramhour_service.comparing.asked import Sought, sought
from gramhour_service.comparing.evaluating import evaluated, evaluations
from gramhour_service.comparing.told import told
from gramhour_service.repricing.holding import goes_on, held, lock_of, removed_when_refused
from gramhour_service.repricing.starting import start
from gramhour_service.sheets.asked import FindSheet
from gramhour_service.sheets.in_force import Pinned, Sheets
from gramhour_service.store.comparisons import (
    Row,
    add_comparison,
    comparison_of,
    fail,
    finish,
    forget_before,
    set_done,
    unfinished,
)
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store, path_of, writing
from gramhour_service.store.trouble import StoreTrouble

ROOM = "gramhour_service.comparing"
KEPT = timedelta(days=1)
BETWEEN_WRITINGS = 0.5
WAIT_SECONDS = 60.0
"""A run waits longer for other writers than a caller does."""
BROKEN_OFF = "the process that computed it was ended; ask again"
ANSWER = json.Decoder(Comparison)


def begin(store: Database, name: str, sent: Any, asked: Sought, written: Written) -> None:
    """Keep a comparison and start its run. Those older than a day are forgotten."""
    path = path_of(store)
    row = Row(
        id=name,
        asked=json.encode(_with_workload(sent, asked)),
        channel=sent["channel"],
        asked_at=written.stamp,
        asked_by=written.by,
        rates_revision=None if asked.revision is UNSET else asked.revision,
        rates_on=None if asked.revision is UNSET else asked.on.isoformat(),
        evaluations=evaluations(asked),
    )
    with held(path, name) as lock, removed_when_refused(path, name):
        with writing(store):
            for old in forget_before(store, written._replace(at=written.at - KEPT).stamp):
                lock_of(path, old).unlink(missing_ok=True)
            add_comparison(store, row)
        start(path, name, lock, ROOM)


def _with_workload(sent: Any, asked: Sought) -> Any:
    """Write down the workload of when it was asked, as far as the sheet has those machines."""
    scheduling = asked.ways[0].scheduling
    machines = scheduling.resolved.sheet.machines
    if "workload" in sent or machines is UNSET:
        return sent
    queues = scheduling.outside.workload.machines
    known = {code: queue for code, queue in queues.items() if code in machines}
    return {**sent, "workload": Workload(machines=known)}


def running(store: Database) -> int:
    """Count the comparisons that go on."""
    return sum(goes_on(path_of(store), name) for name in unfinished(store))


def run(path: Path, name: str) -> None:
    """Compute a comparison that was asked for, to its end; what goes wrong is kept as its end.

    Whoever calls holds its lock.
    """
    store = open_store(path, wait=WAIT_SECONDS)
    try:
        _run(store, name)
    except (Refused, StoreTrouble) as trouble:
        with writing(store):
            fail(store, name, _now(), str(trouble))
    finally:
        store.close()
        lock_of(path, name).unlink(missing_ok=True)


def _run(store: Database, name: str) -> None:
    row = comparison_of(store, name)
    assert row is not None, "it was added before it is run"
    at = datetime.fromisoformat(row.asked_at)
    asked = sought(_pinned(store, row, at), at, json.decode(row.asked))
    written = time.monotonic()

    def say(done: int) -> None:
        nonlocal written
        if time.monotonic() - written >= BETWEEN_WRITINGS:
            with writing(store):
                set_done(store, name, done)
            written = time.monotonic()

    answer = json.encode(told(asked, evaluated(asked, say)))
    with writing(store):
        finish(store, name, _now(), answer)


def _pinned(store: Database, row: Row, at: datetime) -> FindSheet:
    """Find the sheet that was in force when it was asked, whatever was saved since."""
    on = None if row.rates_on is None else date.fromisoformat(row.rates_on)
    sheets = Sheets(store)

    def find(_: int | None, __: date | None) -> Pinned:
        return sheets.pinned(at, row.rates_revision, on)

    return find


def told_run(store: Database, row: Row) -> ComparisonRun:
    """Tell a comparison as it is now."""
    state = row.ended
    if state is None:
        state = "running" if goes_on(path_of(store), row.id) else "broken_off"
    says = BROKEN_OFF if state == "broken_off" else row.says
    return ComparisonRun(
        id=row.id,
        state=state,
        done=row.done,
        of=row.evaluations,
        asked_at=datetime.fromisoformat(row.asked_at),
        asked_by=row.asked_by,
        finished_at=UNSET if row.ended_at is None else datetime.fromisoformat(row.ended_at),
        says=UNSET if says is None else says,
        comparison=UNSET if row.answer is None else ANSWER.decode(row.answer),
    )


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")

"""Told to stop, a service pauses its repricings; the next one takes them up where they were."""

import os
import signal
from contextlib import closing
from pathlib import Path

import pytest
from msgspec import json

from gramhour_service.repricing.holding import goes_on
from gramhour_service.repricing.pausing import SECONDS_TO_PAUSE, take_up_runs
from gramhour_service.store.opening import open_to_read
from gramhour_service.store.repricings import PAUSED, computed_skus, paused, repricing_of
from tests.server.running import serving, wait_until
from tests.server.runs import (
    LISTINGS,
    REPRICINGS,
    ended,
    halted,
    lines_of,
    make_large_shop,
    repriced,
    told,
)


def kept(store: Path, name: str) -> tuple[int, str | None, int]:
    with closing(open_to_read(store)) as opened:
        row = repricing_of(opened, name)
        assert row is not None
        assert row.ended is None
        return row.done, row.says, len(computed_skus(opened, name))


@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_is_paused_with_the_service_and_taken_up_by_the_next_one(
    tmp_path: Path, workers: int
) -> None:
    store = make_large_shop(tmp_path / "gramhour.sqlite")
    with serving(store, "--workers", str(workers)) as service, halted(store, service.ask) as run:
        wait_until(lambda: told(service.ask, run.name)["state"] == "running")
        service.process.terminate()
        wait_until(lambda: is_told_to_end(run.process))
        run.go_on()
        assert service.process.wait(SECONDS_TO_PAUSE) == 0
        wait_until(run.has_ended)
        done, says, lines = kept(store, run.name)
        assert (says, lines) == (PAUSED, done)
        assert 0 < done < LISTINGS
    with serving(store) as service:
        found = ended(service.ask, run.name)
        assert (found["state"], found["done"], found["of"]) == ("finished", LISTINGS, LISTINGS)
        assert "says" not in found
        counted = found["counts"]
        assert sum(counted[each] for each in ("new", "up", "down", "unchanged")) == LISTINGS
        # No line is lost or different because it was computed in two parts.
        whole = repriced(service, over="all")
        assert whole["counts"] == counted
        assert lines_of(service.ask, run.name) == lines_of(service.ask, whole["id"])
        answer = service.ask("POST", f"{REPRICINGS}/{run.name}/apply", "listings", body=b"{}")
        assert answer.status == 200, answer.body
        assert json.decode(answer.body)["applied"] == LISTINGS


def is_told_to_end(process: int) -> bool:
    """Say whether a halted process has the signal to end waiting for it."""
    status = Path(f"/proc/{process}/status").read_text()
    pending = int(status.partition("ShdPnd:")[2].split()[0], 16)
    return bool(pending >> (signal.SIGTERM - 1) & 1)


def test_a_run_that_was_killed_is_not_taken_up(tmp_path: Path) -> None:
    store = make_large_shop(tmp_path / "gramhour.sqlite")
    with serving(store, cuts_off=True) as service:
        with halted(store, service.ask) as run:
            os.kill(run.process, signal.SIGKILL)
            wait_until(run.has_ended)
        assert take_up_runs(store) == 0
        assert told(service.ask, run.name)["state"] == "broken_off"


def test_a_paused_run_is_told_as_such_until_it_is_taken_up(tmp_path: Path) -> None:
    store = make_large_shop(tmp_path / "gramhour.sqlite")
    with serving(store) as service, halted(store, service.ask) as run:
        os.kill(run.process, signal.SIGTERM)
        run.go_on()
        wait_until(lambda: not goes_on(store, run.name))
        found = told(service.ask, run.name)
        assert (found["state"], found["says"]) == ("paused", PAUSED)
        with closing(open_to_read(store)) as opened:
            assert paused(opened) == [run.name]
        assert take_up_runs(store) == 1
        assert ended(service.ask, run.name)["state"] == "finished"

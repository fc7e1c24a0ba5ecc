"""Runs of repricings in processes of their own: asked for, found, halted, and ended."""

import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from functools import partial
from http.client import HTTPConnection
from pathlib import Path
from typing import Any, NamedTuple

from msgspec import json

from gramhour_service.listings.keeping import Ground
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store
from tests.bench import shops
from tests.http.door import add_keys
from tests.server.running import Answer, Service, ask, wait_until

REPRICINGS = "/v1/repricings"
LISTINGS = 1_100
"""So many that worker processes compute them."""
ALL = json.encode({"over": "all"})
RUN, WORKER = b"gramhour_service.repricing", b"spawn_main"
Ask = Callable[..., Answer]
"""Asks for something, by method, path and key."""


def make_large_shop(path: Path, listings: int = LISTINGS) -> Path:
    """Make a store with rates from today on, so many listings, and a key of each kind."""
    now = datetime.now(UTC)
    with closing(open_store(path, create=True)) as store:
        import_sheet(store, shops.sheet(), now=now, made_by="tests")
        found = Sheets(store).pinned(now)
        in_force = found.in_force
        written = Written("tests", now)
        shops.fill(Ground(store, in_force.sheet, in_force.kept, found.on, written), listings)
    return add_keys(path)


class Run(NamedTuple):
    """A run: which repricing, its process, those that compute for it, and what its asker gets."""

    name: str
    process: int
    workers: list[int]
    answer: Future[Answer]

    def go_on(self) -> None:
        """Let it go on."""
        os.kill(self.process, signal.SIGCONT)

    def kill(self) -> None:
        """Kill its process, and no other one."""
        os.kill(self.process, signal.SIGKILL)

    def has_ended(self) -> bool:
        """Say whether none of its processes is left."""
        return not any(map(_lives, (self.process, *self.workers)))


@contextmanager
def halted(store: Path, asks: Ask) -> Iterator[Run]:
    """Ask for a repricing of all; halt its process as soon as it has others that compute."""
    with ThreadPoolExecutor(1) as asker:
        answer = asker.submit(asks, "POST", REPRICINGS, "listings", body=ALL)
        found: list[int] = []

        def computes() -> bool:
            found[:] = [pid for pid in _running(str(store).encode()) if len(_workers_of(pid)) > 1]
            return bool(found)

        wait_until(computes)
        (process,) = found
        os.kill(process, signal.SIGSTOP)
        run = Run(_arguments(process)[-1].decode(), process, _workers_of(process), answer)
        try:
            yield run
        finally:
            for pid in (run.process, *run.workers):
                if _lives(pid):
                    os.kill(pid, signal.SIGKILL)


def by(connection: HTTPConnection) -> Ask:
    """Ask on a connection that stays open."""
    return partial(ask, connection)


def told(asks: Ask, name: str) -> Any:
    """Read a repricing."""
    answer = asks("GET", f"{REPRICINGS}/{name}", "listings")
    assert answer.status == 200, answer.body
    return json.decode(answer.body)


def ended(asks: Ask, name: str) -> Any:
    """Wait until a repricing runs no longer, and read it."""
    wait_until(lambda: told(asks, name)["state"] != "running")
    return told(asks, name)


def repriced(service: Service, **asked: Any) -> Any:
    """Reprice to the end."""
    answer = service.ask("POST", REPRICINGS, "listings", body=json.encode(asked))
    assert answer.status in (201, 202), answer.body
    found = ended(service.ask, json.decode(answer.body)["id"])
    assert (found["state"], found["done"]) == ("finished", found["of"])
    return found


def lines_of(asks: Ask, name: str) -> list[bytes]:
    """Read all lines of a repricing, and how many it says they are."""
    headers = {"Accept": "application/x-ndjson"}
    answer = asks("GET", f"{REPRICINGS}/{name}/lines", "listings", headers=headers)
    *lines, last = answer.body.splitlines()
    assert json.decode(last) == {"done": len(lines)}
    return sorted(lines)


def problem(answer: Answer) -> tuple[int, str, str]:
    """Say of a refusal its status, its type, and its first fault."""
    refusal = json.decode(answer.body)
    kind = refusal["type"].removeprefix("/problems/")
    return answer.status, kind, refusal["errors"][0]["detail"]


def _running(store: bytes) -> list[int]:
    """Name the processes that run a repricing of a store."""
    pids = [int(each.name) for each in Path("/proc").iterdir() if each.name.isdigit()]
    return [pid for pid in pids if {RUN, store} <= set(_arguments(pid))]


def _workers_of(process: int) -> list[int]:
    """Name the processes that compute for a run."""
    with suppress(OSError):
        children = Path(f"/proc/{process}/task/{process}/children").read_text().split()
        return [int(pid) for pid in children if WORKER in b" ".join(_arguments(int(pid)))]
    return []


def _arguments(process: int) -> list[bytes]:
    with suppress(OSError):
        return Path(f"/proc/{process}/cmdline").read_bytes().rstrip(b"\0").split(b"\0")
    return []


def _lives(process: int) -> bool:
    with suppress(OSError):
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
        return state not in "ZX"
    return False

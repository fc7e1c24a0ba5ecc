"""Times imports and repricings of shops of any size: ``python -m tests.bench.repricing [SIZE…]``.

Each size is a shop of its own: five variants of each product on two channels, three breaks, the
least margins of every stretch included. All is what the service does: the import with its checks,
the run in worker processes with its report kept, applying it, and another run after one filament
of a hundred got dearer.
"""

import os
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path

from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.changes import RateChange, RateChanges
from gramhour.contract.repricing import ApplyRequest, RepricingRequest
from gramhour_service.repricing.applying import apply
from gramhour_service.repricing.asking import add_asked, new_name
from gramhour_service.repricing.holding import held
from gramhour_service.repricing.running import run
from gramhour_service.repricing.starting import processes
from gramhour_service.sheets.changing import change_rates
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import writing
from gramhour_service.store.repricings import repricing_of
from tests.bench.shops import NOW, filament, fill, open_shop

USUAL = (1_000, 10_000)


def say(line: str) -> None:
    """Print a line at once."""
    print(line, flush=True)  # noqa: T201


@contextmanager
def timed(what: str, of: int) -> Iterator[None]:
    """Print how long something takes."""
    began, used = time.perf_counter(), cpu()
    yield
    took = time.perf_counter() - began
    each = 1e6 * took / max(of, 1)
    say(f"  {what:34} {took:8.2f} s   {each:9.1f} us each; of cores {cpu() - used:8.2f} s")


def cpu() -> float:
    """Say how many seconds of a core this process has used, and those that it has ended."""
    return sum(os.times()[:4])


def repriced(path: Path, store: Database, what: str) -> str:
    """Run a repricing to its end and say what it found."""
    with writing(store):
        name = add_asked(store, new_name(), RepricingRequest(), Written("bench", NOW)).id
    began, used = time.perf_counter(), cpu()
    with held(path, name):
        run(path, name, processes())
    took, used = time.perf_counter() - began, cpu() - used
    row = repricing_of(store, name)
    assert row is not None
    each = 1e6 * took / max(row.done, 1)
    say(
        f"  {what:34} {took:8.2f} s   {each:9.1f} us each; of cores {used:8.2f} s; {row.done} lines"
    )
    return name


def measured(listings: int, folder: Path) -> None:
    """Measure a shop of so many listings."""
    say(f"{listings} listings, {processes()} processes")
    path = folder / f"{listings}.db"
    store, ground = open_shop(path)
    with timed("imported", listings):
        fill(ground, listings)
    name = repriced(path, store, "priced, all of them")
    with timed("applied", listings), writing(store):
        row = repricing_of(store, name)
        assert row is not None
        apply(store, row, ApplyRequest(), NOW.date(), Written("bench", NOW))
    dearer = RateChange(
        kind="materials", code=filament(7), value={"price_per_kg": str(Decimal("31.00"))}
    )
    changes = RateChanges(changes=[dearer], based_on_revision=1, note=UNSET)
    change_rates(store, changes, Dated(NOW, "bench"))
    repriced(path, store, "repriced, one filament dearer")
    work = RateChange(kind="shop", code="labour_rate_per_hour", value="34.00")
    change_rates(store, RateChanges(changes=[work], based_on_revision=2), Dated(NOW, "bench"))
    repriced(path, store, "repriced, work dearer too")
    store.close()
    most = [
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    ]
    here, there = (kib // 1024 for kib in most)
    size = path.stat().st_size / 1e6
    say(f"  memory {here} MiB here, {there} MiB a process; store {size:.0f} MB")


if __name__ == "__main__":
    sizes = [int(size) for size in sys.argv[1:]] or USUAL
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            measured(size, Path(folder))

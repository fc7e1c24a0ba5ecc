"""Runs are paused when the service stops, at the end of a chunk, and taken up when it starts.

A run that is killed is no paused one: what kills runs might kill it again.
"""

import os
import signal
import time
from contextlib import closing, suppress
from pathlib import Path

from gramhour_service.repricing.holding import goes_on, held, lock_of
from gramhour_service.repricing.starting import start
from gramhour_service.store.opening import open_to_read, read_only
from gramhour_service.store.repricings import paused, unfinished

SECONDS_TO_PAUSE = 8.0
"""How long runs may take to come to the end of a chunk and keep what they have."""
SECONDS_TO_BEGIN = 1.0
"""How long a run that was just asked for may take to say which process it is."""
BETWEEN_LOOKS = 0.05


def pause_runs(path: Path) -> None:
    """Tell all runs of a store to pause, and wait until they have."""
    began, told = time.monotonic(), set[str]()
    while (since := time.monotonic() - began) < SECONDS_TO_PAUSE:
        with closing(read_only(open_to_read(path))) as store:
            going = [name for name in unfinished(store) if goes_on(path, name)]
        for name in going:
            process = process_of(path, name)
            if process is not None and name not in told:
                told.add(name)
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGTERM)
        if not going or (since > SECONDS_TO_BEGIN and not told.intersection(going)):
            return  # what is left is a command's, which goes on with its own process
        time.sleep(BETWEEN_LOOKS)


def take_up_runs(path: Path) -> int:
    """Start the paused runs of a store again; say how many."""
    with closing(open_to_read(path)) as store:
        names = [name for name in paused(store) if not goes_on(path, name)]
    for name in names:
        with held(path, name) as lock:
            start(path, name, lock)
    return len(names)


def process_of(path: Path, name: str) -> int | None:
    """Say which process a run is, from the file that it holds locked; a command's says nothing."""
    try:
        written = lock_of(path, name).read_text()
    except FileNotFoundError:
        return None
    return int(written) if written else None


def write_process(path: Path, name: str) -> None:
    """Say which process a run is."""
    lock_of(path, name).write_text(str(os.getpid()))

"""``python -m gramhour_service.repricing STORE ID``: a run, in a process of its own."""

import os
import signal
import sys
from pathlib import Path
from threading import Event

from gramhour_service.repricing.pausing import write_process
from gramhour_service.repricing.running import run
from gramhour_service.repricing.starting import processes

BEHIND_QUOTES = 10
"""Quotes go first."""


def main(path: Path, name: str) -> None:
    """Run a repricing, whose lock is held, until its end or until told to pause."""
    told_to_pause = Event()
    signal.signal(signal.SIGTERM, lambda *_: told_to_pause.set())
    os.nice(BEHIND_QUOTES)
    write_process(path, name)
    run(path, name, processes(), pauses=told_to_pause.is_set)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])

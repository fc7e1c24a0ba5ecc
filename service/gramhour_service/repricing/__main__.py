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

if __name__ == "__main__":
    told_to_pause = Event()
    signal.signal(signal.SIGTERM, lambda *_: told_to_pause.set())
    os.nice(BEHIND_QUOTES)
    path, name = Path(sys.argv[1]), sys.argv[2]
    write_process(path, name)
    run(path, name, processes(), pauses=told_to_pause.is_set)

"""Starts a run in a process of its own, which goes on whatever becomes of whoever asked."""

import os
import subprocess
import sys
from pathlib import Path
from threading import Thread


def start(store: Path, name: str, lock: int, room: str = "gramhour_service.repricing") -> None:
    """Start the run of a repricing, or of another room, whose lock is held: it holds it on."""
    process = subprocess.Popen(  # noqa: S603 (ourselves)
        [sys.executable, "-m", room, str(store), name],
        pass_fds=[lock],
        start_new_session=True,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
    )
    Thread(target=process.wait, daemon=True).start()


def processes() -> int:
    """Say how many processes compute: one for each core that this one may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1

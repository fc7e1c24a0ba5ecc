"""Starts processes for tests by forking one that has loaded the service already.

To load it takes a second and a half of a core, and a hundred tests want a service of their own.
That the command starts as a program of its own is seen where the README's commands are run, and
in tests of how it starts.
"""

import multiprocessing
import os
import signal
import subprocess
import sys
import warnings
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

from gramhour_service.commandline import main
from gramhour_service.repricing import __main__ as repricing

FORKS = multiprocessing.get_context("forkserver")
FORKS.set_forkserver_preload(
    [
        "gramhour_service.commandline.serve",
        "gramhour_service.http.running",
        "gramhour_service.repricing.__main__",
        "uvloop",
        "httptools",
    ]
)


class Forked:
    """A process, asked as those of ``subprocess`` are."""

    def __init__(self, does: Callable[..., None], *given: object) -> None:
        self._process = FORKS.Process(target=does, args=given)
        self._process.start()
        assert self._process.pid is not None
        self.pid = self._process.pid

    def poll(self) -> int | None:
        return self._process.exitcode

    def wait(self, seconds: float | None = None) -> int:
        """Wait for its end and say its exit code. Raises ``subprocess.TimeoutExpired``."""
        self._process.join(seconds)
        code = self._process.exitcode
        if code is None:
            raise subprocess.TimeoutExpired(str(self.pid), seconds or 0)
        return code

    def terminate(self) -> None:
        self._process.terminate()

    def kill(self) -> None:
        self._process.kill()


def gramhour(*arguments: str, printed: Path) -> Forked:
    """Run a command in a session of its own; what it prints goes to a file."""
    return Forked(_run, printed, arguments, dict(os.environ))


def _run(printed: Path, arguments: tuple[str, ...], environment: dict[str, str]) -> None:
    os.environ.clear()  # which is that of the test that forked first
    os.environ.update(environment)
    os.setsid()  # so that it can be ended together with its workers
    signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored in the background
    to = os.open(printed, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(to, sys.stdout.fileno())
    os.dup2(to, sys.stderr.fileno())
    warnings.simplefilter("error")
    warnings.simplefilter("ignore", ResourceWarning)  # sockets may be left to the system
    sys.argv = ["gramhour", *arguments]
    main(arguments)


def start_run(store: Path, name: str, lock: int) -> None:
    """Start the run of a repricing, as the service does, but for loading it anew."""
    with Connection(os.dup(lock)) as handed_on:  # what can be sent to a process, descriptor and all
        Forked(_run_on, store, name, handed_on)


def _run_on(store: Path, name: str, lock: Connection) -> None:
    os.setsid()
    with lock:
        repricing.main(store, name)

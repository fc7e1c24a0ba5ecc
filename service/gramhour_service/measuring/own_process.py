"""A process of its own for a file of a stranger, with bounded memory and time.

Whatever is in the file, the process that asked goes on.
"""

import logging
import os
import resource
import signal
import subprocess
import sys
from typing import NamedTuple

LOG = logging.getLogger(__name__)
SECONDS_TO_START = 5
OUT_OF_MEMORY = 3
"""How the process says that it ended for want of memory."""

MOST_OPEN_FILES = 16
BEHIND_OTHERS = 5
"""How much a file stands back for answers, in steps of ``nice``."""


class Bounds(NamedTuple):
    """What the process may take."""

    memory_bytes: int
    seconds: int


class OutOfMemory(Exception):
    """The process ended for want of memory."""


class OutOfTime(Exception):
    """The process took more time than it may."""


class Broken(Exception):
    """The file broke the program that reads it."""


def ask_process(module: str, task: str, content: bytes | bytearray, seconds: int) -> bytes:
    """Have a module of ours read a file in a process of its own. Gives what it answers.

    The module is handed its task as the one argument and the file on standard input, and bounds
    itself by ``bound``. Blocks until that is done, at most ``seconds`` and a little. Raises
    ``OutOfMemory``, ``OutOfTime``, and ``Broken`` for all that nobody foresaw.
    """
    try:
        ended = subprocess.run(  # noqa: S603 - our own module; the file is on its standard input
            [sys.executable, "-P", "-m", module, task],
            input=content,
            capture_output=True,
            env=_environment(),
            timeout=seconds + SECONDS_TO_START,
            check=False,
        )
    except subprocess.TimeoutExpired as expired:
        raise OutOfTime from expired
    if ended.returncode == OUT_OF_MEMORY:
        raise OutOfMemory
    if ended.returncode == -signal.SIGXCPU:
        raise OutOfTime
    if ended.returncode:
        last = ended.stderr.decode("utf-8", "replace").strip().rpartition("\n")[2]
        LOG.error("measuring a file ended with %d: %s", ended.returncode, last)
        raise Broken
    return ended.stdout


def _environment() -> dict[str, str]:
    """Hand on where modules are, and nothing else; threads would only cost memory."""
    return {
        "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
        "PYTHONHASHSEED": "0",
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }


def bound(bounds: Bounds) -> None:
    """Give up what a file could be used to take: memory, time, files, traces on the disk."""
    os.nice(BEHIND_OTHERS)
    for what, most in (
        (resource.RLIMIT_AS, bounds.memory_bytes),
        (resource.RLIMIT_NOFILE, MOST_OPEN_FILES),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))
    # At the first of the two it is told why it ends.
    resource.setrlimit(resource.RLIMIT_CPU, (bounds.seconds, bounds.seconds + 1))

"""A file from a stranger is measured in a process of its own, with bounded memory and time.

Whatever is in the file, the process that asked goes on: the worst that comes back is a refusal.
"""

import logging
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from gramhour_service.measuring.estimate import Laid
from gramhour_service.measuring.measurement import Measured
from gramhour_service.measuring.mesh import (
    Limits,
    RefusalKind,
    Refused,
    takes_too_long,
    too_many_bytes,
)
from gramhour_service.measuring.profile import Profile

LOG = logging.getLogger(__name__)
SECONDS_TO_START = 5
OUT_OF_MEMORY = 3
"""How the process says that it ended for want of memory."""


class Task(NamedTuple):
    """What the process is to do with the file that it is handed."""

    media_type: str
    limits: Limits
    profiles: tuple[Profile, ...]


class MeasuredApart(NamedTuple):
    """What comes back: the measurement, and what each profile lays down (none of open surfaces)."""

    measured: Measured
    laid: tuple[Laid | None, ...]


class RefusedApart(NamedTuple):
    """What comes back of a file that cannot be measured."""

    refused: RefusalKind
    detail: str


def measure_apart(
    content: bytes, media_type: str, limits: Limits, profiles: Sequence[Profile] = ()
) -> MeasuredApart:
    """Measure a file in a process of its own. Raises ``Refused``.

    It blocks until that is done, at most ``limits.seconds`` and a little: call it in a thread.
    """
    if len(content) > limits.file_bytes:
        raise too_many_bytes(len(content), limits)
    task = msgspec.json.encode(Task(media_type, limits, tuple(profiles))).decode()
    try:
        ended = subprocess.run(  # noqa: S603 - our own module; the file is on its standard input
            [sys.executable, "-P", "-m", "gramhour_service.measuring.process", task],
            input=content,
            capture_output=True,
            env=_environment(),
            timeout=limits.seconds + SECONDS_TO_START,
            check=False,
        )
    except subprocess.TimeoutExpired as expired:
        raise takes_too_long(limits) from expired
    return _outcome(ended, limits)


def _environment() -> dict[str, str]:
    """Hand on where modules are, and nothing else; threads would only cost memory."""
    return {
        "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
        "PYTHONHASHSEED": "0",
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }


def _outcome(ended: subprocess.CompletedProcess[bytes], limits: Limits) -> MeasuredApart:
    if ended.returncode == OUT_OF_MEMORY:
        raise Refused(
            "too-large",
            f"measuring the file takes more than {limits.memory_bytes >> 20:,} MiB of memory; "
            "export it with a coarser resolution",
        )
    if ended.returncode == -signal.SIGXCPU:
        raise takes_too_long(limits)
    if ended.returncode:
        last = ended.stderr.decode("utf-8", "replace").strip().rpartition("\n")[2]
        LOG.error("measuring a file ended with %d: %s", ended.returncode, last)
        raise Refused("unreadable", "the file breaks the program that reads it; export it again")
    answer = msgspec.json.decode(ended.stdout, type=list[msgspec.Raw])
    if msgspec.json.decode(answer[0], type=bool):
        return msgspec.json.decode(answer[1], type=MeasuredApart)
    kind, detail = msgspec.json.decode(answer[1], type=RefusedApart)
    raise Refused(kind, detail)

"""A file from a stranger is measured in a process of its own, with bounded memory and time.

Whatever is in the file, the process that asked goes on: the worst that comes back is a refusal.
"""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from gramhour_service.measuring.bounds import (
    STL,
    Limits,
    RefusalKind,
    Refused,
    check_count,
    takes_too_long,
    too_many_bytes,
)
from gramhour_service.measuring.estimate import Laid
from gramhour_service.measuring.own_process import Broken, OutOfMemory, OutOfTime, ask_process
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Measured, Plate

PROCESS = "gramhour_service.measuring.process"


class Task(NamedTuple):
    """What the process is to do with the file that it is handed."""

    media_type: str
    limits: Limits
    profiles: tuple[Profile, ...]
    room: Plate | None = None


class MeasuredApart(NamedTuple):
    """What comes back: the measurement, and what each profile lays down.

    That is none of open surfaces, and of what does not fit the room that was told.
    """

    measured: Measured
    laid: tuple[Laid | None, ...]


class RefusedApart(NamedTuple):
    """What comes back of a file that cannot be measured."""

    refused: RefusalKind
    detail: str


def measure_apart(
    content: bytes | bytearray,
    media_type: str,
    limits: Limits,
    profiles: Sequence[Profile] = (),
    room: Plate | None = None,
) -> MeasuredApart:
    """Measure a file in a process of its own; of what does not fit a room nothing is laid down.

    Raises ``Refused``.

    It blocks until that is done, at most ``limits.seconds`` and a little: call it in a thread.
    """
    if len(content) > limits.file_bytes:
        raise too_many_bytes(len(content), limits)
    if media_type == STL:
        check_count(content, limits)
    task = msgspec.json.encode(Task(media_type, limits, tuple(profiles), room)).decode()
    try:
        answer = ask_process(PROCESS, task, content, limits.seconds)
    except OutOfTime as error:
        raise takes_too_long(limits) from error
    except OutOfMemory as error:
        raise Refused(
            "too-large",
            f"measuring the file takes more than {limits.memory_bytes >> 20:,} MiB of memory; "
            "export it with a coarser resolution",
        ) from error
    except Broken as error:
        detail = "the file breaks the program that reads it; export it again"
        raise Refused("unreadable", detail) from error
    is_measured, told = msgspec.json.decode(answer, type=tuple[bool, msgspec.Raw])
    if is_measured:
        return msgspec.json.decode(told, type=MeasuredApart)
    kind, detail = msgspec.json.decode(told, type=RefusedApart)
    raise Refused(kind, detail)

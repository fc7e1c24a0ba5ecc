"""A toolpath from a stranger is read in a process of its own, as meshes are measured."""

from collections.abc import Mapping
from typing import NamedTuple

import msgspec

from gramhour_service.measuring.bounds import Refused
from gramhour_service.measuring.own_process import (
    Bounds,
    Broken,
    OutOfMemory,
    OutOfTime,
    ask_process,
)
from gramhour_service.measuring.toolpath_process import ToolpathTask
from gramhour_service.toolpath.faults import ToolpathFault, ToolpathRefused
from gramhour_service.toolpath.measured import Filament, Toolpath
from gramhour_service.toolpath.motion import Motion

PROCESS = "gramhour_service.measuring.toolpath_process"


class ToolpathLimits(NamedTuple):
    """How much a toolpath may ask of the machine that reads it."""

    file_bytes: int = 100_000_000
    memory_bytes: int = 1 << 28
    seconds: int = 60


def read_toolpath_apart(
    content: bytes | bytearray,
    motion: Motion,
    filaments: Mapping[int, Filament],
    limits: ToolpathLimits,
) -> Toolpath:
    """Read a toolpath in a process of its own.

    It blocks until that is done, at most ``limits.seconds`` and a little: call it in a thread.
    Raises ``ToolpathRefused`` with the lines that are at fault, or ``Refused`` for a file that
    asks for too much.
    """
    if len(content) > limits.file_bytes:
        detail = f"the file has {len(content):,} bytes, at most {limits.file_bytes:,} are read"
        raise Refused("too-large", f"{detail}; split it")
    bounds = Bounds(limits.memory_bytes, limits.seconds)
    task = msgspec.json.encode(ToolpathTask(motion, dict(filaments), bounds)).decode()
    try:
        answer = ask_process(PROCESS, task, content, limits.seconds)
    except OutOfTime as error:
        detail = f"reading the toolpath takes more than {limits.seconds} s; split it"
        raise Refused("takes-too-long", detail) from error
    except OutOfMemory as error:
        most = f"{limits.memory_bytes >> 20:,} MiB of memory"
        raise Refused("too-large", f"reading the toolpath takes more than {most}; split it") from (
            error
        )
    except Broken as error:
        detail = "the file breaks the program that reads it; tell whoever runs the service"
        raise Refused("unreadable", detail) from error
    is_read, told = msgspec.json.decode(answer, type=tuple[bool, msgspec.Raw])
    if is_read:
        return msgspec.json.decode(told, type=Toolpath)
    raise ToolpathRefused(msgspec.json.decode(told, type=tuple[ToolpathFault, ...]))

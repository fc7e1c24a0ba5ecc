"""The process in which a toolpath is read: bounds itself, reads it as it comes, answers, ends.

Started by ``toolpath_apart`` with its task as the one argument and the file on standard input.
"""

import os
import sys
from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from gramhour_service.measuring.own_process import OUT_OF_MEMORY, Bounds, bound
from gramhour_service.toolpath.faults import ToolpathRefused
from gramhour_service.toolpath.measured import Filament
from gramhour_service.toolpath.motion import Motion
from gramhour_service.toolpath.reading import read_toolpath

CHUNK_BYTES = 1 << 16


class ToolpathTask(NamedTuple):
    """What the process is to read the file with."""

    motion: Motion
    filaments: dict[int, Filament]
    bounds: Bounds


def main(argument: str) -> int:
    """Read the toolpath on standard input. Gives the status that the process ends with."""
    task = msgspec.json.decode(argument, type=ToolpathTask)
    bound(task.bounds)
    try:
        answer: object = (True, read_toolpath(_chunks(), task.motion, task.filaments))
    except ToolpathRefused as refusal:
        answer = (False, refusal.faults)
    except MemoryError:
        return OUT_OF_MEMORY
    sys.stdout.buffer.write(msgspec.json.encode(answer))
    return 0


def _chunks() -> Iterator[bytes]:
    while chunk := sys.stdin.buffer.read(CHUNK_BYTES):
        yield chunk


if __name__ == "__main__":
    status = main(sys.argv[1])
    sys.stdout.flush()
    os._exit(status)  # what a file did to memory is not taken apart in order

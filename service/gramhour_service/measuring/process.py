"""The process in which a file is measured: bounds itself, reads, answers, ends.

Started by ``apart`` with its task as the one argument and the file on standard input. Its bounds
are set before the first byte of the file is read.
"""

import os
import sys
from decimal import ROUND_HALF_EVEN, Decimal

import msgspec

from gramhour_service.measuring.apart import MeasuredApart, RefusedApart, Task
from gramhour_service.measuring.beads import Beads, beads_by_layers
from gramhour_service.measuring.bounds import Refused
from gramhour_service.measuring.estimate import Laid
from gramhour_service.measuring.measurement import CUBIC_MM, measure, read_mesh
from gramhour_service.measuring.own_process import OUT_OF_MEMORY, Bounds, bound
from gramhour_service.measuring.size import fits


def main(argument: str) -> int:
    """Measure the file on standard input. Gives the status that the process ends with."""
    task = msgspec.json.decode(argument, type=Task)
    bound(Bounds(task.limits.memory_bytes, task.limits.seconds))
    try:
        answer: object = (True, measured_apart(sys.stdin.buffer.read(), task))
    except Refused as refusal:
        answer = (False, RefusedApart(refusal.kind, refusal.detail))
    except MemoryError:
        return OUT_OF_MEMORY
    sys.stdout.buffer.write(msgspec.json.encode(answer))
    return 0


def measured_apart(content: bytes, task: Task) -> MeasuredApart:
    """Measure a file, and lay beads by each profile. Raises ``Refused``."""
    found = measure(read_mesh(content, task.media_type, task.limits))
    measured, solids = found
    is_made = task.room is None or fits(measured.box, task.room)
    if solids is None or not is_made:
        return MeasuredApart(measured, tuple(None for _ in task.profiles))
    laid = [beads_by_layers(solids.surface, profile) for profile in task.profiles]
    warnings = dict.fromkeys(each for beads in laid for each in beads.warnings)
    measured = measured._replace(warnings=(*measured.warnings, *warnings))
    return MeasuredApart(measured, tuple(map(_laid, laid)))


def _laid(beads: Beads) -> Laid:
    return Laid(_rounded(beads.volume_mm3), _rounded(beads.support_mm3), beads.layers)


def _rounded(amount: float) -> Decimal:
    return Decimal(repr(amount)).quantize(CUBIC_MM, ROUND_HALF_EVEN)


if __name__ == "__main__":
    status = main(sys.argv[1])
    sys.stdout.flush()
    os._exit(status)  # what a file did to memory is not taken apart in order

"""The one way from a stream of bytes to what the toolpath in it amounts to."""

from collections.abc import Iterable, Mapping

from gramhour_service.toolpath.codes import Codes
from gramhour_service.toolpath.faults import (
    MOST_FAULTS,
    LineFault,
    ToolpathFault,
    ToolpathRefused,
)
from gramhour_service.toolpath.lines import lines_of
from gramhour_service.toolpath.machine import Machine
from gramhour_service.toolpath.measured import Filament, NotRead, Toolpath
from gramhour_service.toolpath.motion import Motion

MOST_MINUTES = 1e6


def read_toolpath(
    chunks: Iterable[bytes], motion: Motion, filaments: Mapping[int, Filament]
) -> Toolpath:
    """Read a file as it comes, and measure its toolpath for a machine and each tool's filament.

    Codes that are not read are counted. Raises ``ToolpathRefused`` with every fault found, or with
    the first ``MOST_FAULTS``, after which nothing more is read.
    """
    machine = Machine(motion, filaments)
    codes = Codes(machine)
    faults: list[ToolpathFault] = []
    number = 0
    for lines in lines_of(chunks):
        number = _carry_out(lines, number, codes, faults)
        if len(faults) >= MOST_FAULTS:
            break
    machine.queue.finish()
    if not faults:
        faults = [ToolpathFault(max(1, number), detail) for detail in _amiss(machine)]
    if faults:
        raise ToolpathRefused(tuple(faults))
    return _toolpath(machine, number, codes.not_read)


def _carry_out(lines: list[str], number: int, codes: Codes, faults: list[ToolpathFault]) -> int:
    """Carry out some lines, until there are too many faults. Gives the last one's number."""
    for text in lines:
        number += 1
        try:
            codes.read(text)
        except LineFault as fault:
            faults.append(ToolpathFault(number, str(fault)))
            if len(faults) >= MOST_FAULTS:
                break
    return number


def _amiss(machine: Machine) -> list[str]:
    if machine.laid.box is None:
        return ["no move lays material: none feeds filament while it travels"]
    if machine.queue.seconds / 60 > MOST_MINUTES:
        return [f"the toolpath takes more than {MOST_MINUTES:,.0f} minutes"]
    return []


def _toolpath(machine: Machine, lines: int, not_read: Mapping[str, int]) -> Toolpath:
    queue, laid = machine.queue, machine.laid
    assert laid.box is not None
    return Toolpath(
        fed=machine.tools.fed(),
        minutes=queue.seconds / 60,
        laying_minutes=queue.laying_seconds / 60,
        layers=laid.layers,
        box=laid.box,
        mean_flow_mm3_s=queue.laid_mm3 / queue.laying_seconds,
        peak_flow_mm3_s=queue.peak_flow,
        lines=lines,
        moves=machine.moves,
        climbing_moves=laid.climbing_moves,
        unfed_moves=machine.unfed_moves,
        not_read=tuple(NotRead(*each) for each in sorted(not_read.items())),
    )

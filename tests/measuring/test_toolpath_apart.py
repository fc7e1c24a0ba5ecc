"""A toolpath in a process of its own: it is read as it is here, and what it costs is bounded."""

import pytest

from gramhour_service.measuring.bounds import Refused
from gramhour_service.measuring.toolpath_apart import ToolpathLimits, read_toolpath_apart
from gramhour_service.toolpath.faults import ToolpathFault, ToolpathRefused
from gramhour_service.toolpath.reading import read_toolpath
from tests.cube_toolpath import CUBE_GCODE
from tests.toolpath.paths import FILAMENT, MOTION

LIMITS = ToolpathLimits()


def refused(content: bytes, limits: ToolpathLimits) -> str:
    with pytest.raises(Refused) as refusal:
        read_toolpath_apart(content, MOTION, {0: FILAMENT}, limits)
    return f"{refusal.value.kind}: {refusal.value.detail}"


def test_apart_a_toolpath_is_read_as_it_is_here() -> None:
    found = read_toolpath_apart(CUBE_GCODE, MOTION, {0: FILAMENT}, LIMITS)
    assert found == read_toolpath([CUBE_GCODE], MOTION, {0: FILAMENT})


def test_faults_come_back_with_their_lines() -> None:
    with pytest.raises(ToolpathRefused) as refusal:
        read_toolpath_apart(b"G1 X10 E1\nG1 Y\nG19\n", MOTION, {0: FILAMENT}, LIMITS)
    assert refusal.value.faults == (
        ToolpathFault(2, "'Y' is not a letter followed by a number"),
        ToolpathFault(3, "G19: arcs are read in the plane XY only"),
    )


def test_a_file_with_too_many_bytes_is_not_read() -> None:
    told = refused(CUBE_GCODE, ToolpathLimits(file_bytes=100))
    assert told.endswith("at most 100 are read; split it")
    assert told.startswith("too-large: ")


def test_a_file_that_takes_more_time_than_allowed_is_told_so() -> None:
    endless = b"M83\n" + b"G1 X1 E1\nG1 X0 E1\n" * 1_000_000
    told = refused(endless, ToolpathLimits(seconds=1))
    assert told == "takes-too-long: reading the toolpath takes more than 1 s; split it"


def test_an_endless_line_takes_no_memory() -> None:
    line = b"G1 X10 E1 F600\nG1 X" + b"1" * 60_000_000
    with pytest.raises(ToolpathRefused) as refusal:
        read_toolpath_apart(line, MOTION, {0: FILAMENT}, ToolpathLimits(memory_bytes=1 << 26))
    assert [fault.line for fault in refusal.value.faults] == [2]

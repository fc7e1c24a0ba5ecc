"""Lines, words and codes: what is read, what is counted, and what is refused with its line."""

from collections.abc import Iterator
from contextlib import suppress
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gramhour_service.toolpath.faults import MOST_FAULTS, LineFault, ToolpathFault, ToolpathRefused
from gramhour_service.toolpath.laid import MOST_LAYERS, Laid
from gramhour_service.toolpath.measured import NotRead, Point
from gramhour_service.toolpath.reading import read_toolpath
from tests.toolpath.paths import FILAMENT, MOTION, read

PLAIN = ["G21", "G90", "M83", "G0 X10 Y20 Z0.2 F6000", "G1 X40 E1", "G3 X10 Y50 I-30 E2 F1200"]


def faults_of(content: bytes | list[str]) -> tuple[ToolpathFault, ...]:
    if isinstance(content, list):
        content = "\n".join(content).encode()
    with pytest.raises(ToolpathRefused) as refused:
        read_toolpath([content], MOTION, {0: FILAMENT})
    return refused.value.faults


@pytest.mark.parametrize(
    "change",
    [
        lambda line: line + " ; estimated 3 h, 17 g, X99 (",
        lambda line: "(X99; Y99) " + line + " (Z99)",
        lambda line: line + "*71",
        lambda line: "N12 " + line + " *71",
        lambda line: "N007" + line,
        lambda line: line.lower(),
        lambda line: line.replace(" ", ""),
        lambda line: line.replace(" ", "\t  ") + "  ",
        lambda line: line.replace("G", "G0"),
        lambda line: "\n" + line + "\n;\n",
    ],
    ids=[
        *("comment", "brackets", "checksum", "numbered and checked", "numbered", "small letters"),
        *("no blanks", "blanks", "zeros", "empty lines"),
    ],
)
def test_the_same_codes_are_the_same_toolpath_however_they_are_written(change: object) -> None:
    assert callable(change)
    written = read([change(line) for line in PLAIN])
    assert written._replace(lines=0) == read(PLAIN)._replace(lines=0)


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
@pytest.mark.parametrize("size", [1, 2, 3, 7, 1000])
def test_lines_end_as_they_like_and_bytes_come_as_they_like(end: bytes, size: int) -> None:
    content = end.join(line.encode() for line in PLAIN) + end
    chunks = [content[start : start + size] for start in range(0, len(content), size)]
    assert read_toolpath(chunks, MOTION, {0: FILAMENT}) == read(PLAIN)


def test_a_mark_of_byte_order_is_no_text() -> None:
    content = b"\xef\xbb\xbf" + "\n".join(PLAIN).encode()
    assert read_toolpath([content], MOTION, {0: FILAMENT}) == read(PLAIN)


def test_a_motion_holds_until_another() -> None:
    short = [
        *("M83", "G1 X10 E1 F600", "X20 E1", "Y10E1", "F300", "G3 X10 Y20 I-10 E1"),
        "X0 Y10 J-10E1",
    ]
    long = [
        *("M83", "G1 X10 E1 F600", "G1 X20 E1", "G1 Y10 E1", "G1 F300", "G3 X10 Y20 I-10 E1"),
        "G3 X0 Y10 J-10 E1",
    ]
    assert read(short)._replace(moves=0) == read(long)._replace(moves=0)


def test_several_codes_may_stand_on_a_line() -> None:
    assert read(["G21 G90 M83 G1 X10 E1 F600"]) == read(["G90 G1 X10 E1 F600 G21"])


def test_what_is_not_read_is_counted_and_told() -> None:
    lines = [
        *("%", "O1234", "M104 S200", "M104 S0", "M117 Done (almost", "SOME_COMMAND A=1 b", "G64"),
        *("/G1 X100 E9", "T-1", "T1000", "G10 L2 P1 X5", "G1 X10 E1 S3 F600", "G5 X1", "P4"),
    ]
    toolpath = read(lines)
    assert toolpath.not_read == tuple(
        NotRead(code, times)
        for code, times in (
            *(("/", 1), ("G10 with words", 1), ("G5", 1), ("G64", 1), ("M104", 2), ("M117", 1)),
            *(("O1234", 1), ("P4", 1), ("S of a move", 1), ("SOME_COMMAND", 1), ("T-1", 1)),
            ("T1000", 1),
        )
    )
    assert toolpath._replace(not_read=(), lines=1) == read(["G1 X10 E1 F600"])


def test_ever_new_codes_are_counted_together() -> None:
    lines = [f"M{code}" for code in range(1000, 6000)]
    toolpath = read([*lines, "G1 X10 E1 F600"])
    assert len(toolpath.not_read) == 101
    assert sum(each.times for each in toolpath.not_read) == 5000


def test_what_programs_write_into_comments_changes_nothing() -> None:
    remarks = ["; time 99:99:99", ";filament used 3000 m", "(layers 77)", "; G1 X500 E500"]
    assert read([*remarks, *PLAIN, *remarks])._replace(lines=0) == read(PLAIN)._replace(lines=0)


@pytest.mark.parametrize(
    ("line", "detail"),
    [
        ("G1 XNaN E1", "'XNaN E1' is not a letter followed by a number"),
        ("G1 X1e999 E1", "'G1 X1e999 E1' has a number with an exponent; write it out"),
        ("G1 X", "'X' is not a letter followed by a number"),
        ("G1 X1_000", "'_000' is not a letter followed by a number"),
        ("G1 X٣", "the line holds bytes that are no text; is the file packed or damaged?"),
        ("G1 X1.2.3", "'.3' is not a letter followed by a number"),
        ("G1 X1 X2", "a letter stands twice on the line"),
        ("G1 X10001", "X is 10001 mm: more than 10,000 mm away"),
        ("G1 Z-" + "9" * 400, "Z is -inf mm: more than 10,000 mm away"),
        ("G1 E" + "9" * 400, "E feeds inf mm of filament in one move"),
        ("G1 X1 F0", "a feed of 0 mm/min is none"),
        ("G1 X1 F-100", "a feed of -100 mm/min is none"),
        ("F" + "9" * 400, "a feed of inf mm/min is none"),
        ("G4 S-1", "a dwell of -1 s is none"),
        ("G4 P1" + "0" * 20, "a dwell of 1e+17 s is none"),
        ("G0 G1 X5", "G0 and G1 cannot stand on one line"),
        ("G2 X10 E1", "an arc needs its centre (I, J) or its radius (R)"),
        ("G2 X10 R5 I5", "an arc has either a centre (I, J) or a radius (R)"),
        ("G2 X10 R4", "an arc of radius 4 mm cannot span 10 mm"),
        ("G2 X0 Y0 R4", "an arc with R ends where it starts; give its centre with I and J"),
        ("G2 X10 I0 J0", "the arc's centre is where it starts"),
        ("G92 X-" + "9" * 400, "X is -inf mm: more than 10,000 mm away"),
        ("G92 E" + "9" * 400, "E is called inf mm of filament"),
        ("G3 X10 J" + "9" * 400, "J is inf mm: more than 10,000 mm away"),
        ("G3 X10 R20000", "R is 20000 mm: more than 10,000 mm away"),
        ("G2 X10 I6", "the arc misses its end by 2 mm"),
        ("X10", "there are coordinates, but none of G0 to G3 was named before"),
        ("G18", "G18: arcs are read in the plane XY only"),
        ("G93", "G93: feeds are read in units a minute only"),
        ("G1 X1 (open", "'(open' is not a letter followed by a number"),
        ("((()))", "'(( ))' is not a letter followed by a number"),
        ("G1 " + "X1" * 3000, "the line is longer than 4,096 characters"),
        ("\x00\x01\x02", "the line holds bytes that are no text; is the file packed or damaged?"),
        ("T1\nG1 X1 E1", "filament is fed to tool 1, but none is named for it"),
    ],
)
def test_a_line_that_cannot_be_carried_out_is_a_fault_with_its_number(
    line: str, detail: str
) -> None:
    found = faults_of(["M82", "G21", line, "G1 X5 E0.1 F600"])
    assert found[0] == ToolpathFault(3 + line.count("\n"), detail)


def test_faults_are_collected() -> None:
    found = faults_of(["G1 XA", "G1 X1 E1", "G1 Y--1", "", "G2 X4"])
    assert [fault.line for fault in found] == [1, 3, 5]


def test_faults_are_collected_up_to_a_number_and_nothing_is_read_after_it() -> None:
    def chunks() -> Iterator[bytes]:
        yield b"G1 X1 X1\n" * (2 * MOST_FAULTS)
        raise AssertionError

    with pytest.raises(ToolpathRefused) as refused:
        read_toolpath(chunks(), MOTION, {0: FILAMENT})
    assert [fault.line for fault in refused.value.faults] == list(range(1, MOST_FAULTS + 1))


@pytest.mark.parametrize("content", [b"", b"\n\n", b"hello\nworld\n", b"G1 X10 F600\nG1 E5"])
def test_a_file_that_lays_nothing_is_no_toolpath(content: bytes) -> None:
    (fault,) = faults_of(content)
    assert fault.detail == "no move lays material: none feeds filament while it travels"


def test_a_line_without_an_end_is_one_fault_and_no_memory() -> None:
    def chunks() -> Iterator[bytes]:
        yield b"G21\nG1 "
        for _ in range(500):
            yield b"X1 " * 30_000

    with pytest.raises(ToolpathRefused) as refused:
        read_toolpath(chunks(), MOTION, {0: FILAMENT})
    assert refused.value.faults == (ToolpathFault(2, "the line is longer than 4,096 characters"),)


def test_a_comment_may_be_as_long_as_it_likes() -> None:
    assert read([PLAIN[0] + "; " + "x" * 1_000_000, *PLAIN[1:]]) == read(PLAIN)


def test_far_too_many_layers_are_a_fault() -> None:
    laid = Laid()
    for k in range(MOST_LAYERS):
        laid.line(Point(0, 0, k / 500), Point(1, 0, k / 500))
    with pytest.raises(LineFault, match="laid at more than 100,000 heights"):
        laid.line(Point(0, 0, -1), Point(1, 0, -1))


def test_a_toolpath_of_years_is_a_fault() -> None:
    (fault,) = faults_of(["G1 X9999 E1 F0.001"])
    assert fault.detail == "the toolpath takes more than 1,000,000 minutes"


def test_noise_of_any_kind_is_refused_with_faults() -> None:
    random = Random(7)
    for _ in range(200):
        noise = random.randbytes(random.randint(1, 3000))
        found = faults_of(noise)
        assert 1 <= len(found) <= MOST_FAULTS
        assert all(fault.detail.isprintable() and len(fault.detail) < 200 for fault in found)


@given(st.lists(st.text('GMTXYZEFIJRN0123456789.+-() ;*%/eE_a\t"\\{}[]é\x00', max_size=40)))
def test_junk_that_looks_like_codes_is_read_or_refused(lines: list[str]) -> None:
    toolpath = None
    with suppress(ToolpathRefused):
        toolpath = read(lines)
    if toolpath is None:
        assert faults_of(lines)
    else:
        assert toolpath.minutes > 0
        assert toolpath.fed


def test_lines_that_nearly_fit_are_refused_quickly() -> None:
    for piece in ("X1", "(", "1", "G1", "9.", "+-", "X1E1", " ", "((x)"):
        assert faults_of([piece * (4_000 // len(piece)) + "!"] * MOST_FAULTS)

"""Filament, grams, layers, box and flow of files that were made for a known shape."""

import math
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gramhour_service.toolpath.measured import Box, Filament, Point, Toolpath
from tests.toolpath.paths import FILAMENT, read

WIDTH, HEIGHT = 0.45, 0.2
BEAD = math.pi * HEIGHT**2 / 4 + HEIGHT * (WIDTH - HEIGHT)
"""A stadium's area, 0.081416 mm²: the form in Comminal et al. 2018."""

AREA = math.pi * 1.75**2 / 4


def frame(side: float, layers: int, scale: float = 1.0, *, relative: bool = True) -> list[str]:
    """A square of one bead, its centre line ``side`` long, some layers high, with retractions."""
    lines = [f"{'M83' if relative else 'M82'}", "G28", f"G0 F{6000 * scale:.15f}"]
    fed = 0.0

    def e(length: float) -> str:
        nonlocal fed
        fed += length
        return f"E{(length if relative else fed) * scale:.15f}"

    for layer in range(1, layers + 1):
        lines.append(f"G0 Z{layer * HEIGHT * scale:.15f}")
        lines.append(f"G0 X{10 * scale:.15f} Y{20 * scale:.15f}")
        lines.append(f"G1 {e(0.8 if layer > 1 else 0)} F{2400 * scale:.15f}")
        for x, y in ((side, 0), (side, side), (0, side), (0, 0)):
            place = f"X{(10 + x) * scale:.15f} Y{(20 + y) * scale:.15f}"
            lines.append(f"G1 {place} {e(side * BEAD / AREA)} F{3000 * scale:.15f}")
        lines.append(f"G1 {e(-0.8)} F{2400 * scale:.15f}")
    return lines


def same(one: Toolpath, other: Toolpath) -> None:
    for a, b in zip(flat(one), flat(other), strict=True):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-9)


def flat(toolpath: Toolpath) -> Iterator[float]:
    for fed in toolpath.fed:
        yield from fed
    yield from toolpath.box.low
    yield from toolpath.box.high
    yield from toolpath[1:4]
    yield from toolpath[5:7]


def test_a_frame_has_the_volume_of_its_beads_its_layers_its_box_and_its_flow() -> None:
    toolpath = read(frame(30, 25))
    (fed,) = toolpath.fed
    volume = 4 * 30 * 25 * BEAD
    assert fed.volume_mm3 == pytest.approx(volume, rel=1e-9)
    assert fed.filament_mm == pytest.approx(volume / AREA, rel=1e-9)
    assert fed.grams == pytest.approx(volume * 1.24 / 1000, rel=1e-9)
    assert toolpath.layers == 25
    assert toolpath.box == Box(Point(10, 20, HEIGHT), Point(40, 50, 25 * HEIGHT))
    assert toolpath.peak_flow_mm3_s == pytest.approx(50 * BEAD, rel=1e-6)
    mean = volume / (60 * toolpath.laying_minutes)
    assert toolpath.mean_flow_mm3_s == pytest.approx(mean, rel=1e-9)
    assert toolpath.mean_flow_mm3_s < toolpath.peak_flow_mm3_s


def test_a_tube_of_arcs_has_the_volume_of_its_beads_and_the_box_of_its_circle() -> None:
    lines = ["M83", "G0 X50 Y40 F6000"]
    for layer in range(1, 11):
        lines += [f"G0 Z{layer * HEIGHT:.3f}", f"G2 I-15 E{math.tau * 15 * BEAD / AREA:.15f} F1800"]
    toolpath = read(lines)
    assert toolpath.fed[0].volume_mm3 == pytest.approx(10 * math.tau * 15 * BEAD, rel=1e-9)
    assert toolpath.box.low == pytest.approx((20, 25, 0.2), rel=1e-12)
    assert toolpath.box.high == pytest.approx((50, 55, 2.0), rel=1e-12)
    assert toolpath.layers == 10


def test_a_disc_filled_with_lines_has_nearly_the_volume_of_a_cylinder() -> None:
    """Lines a bead apart, of rectangular beads: their sum is the area, as in any integration."""
    radius, pitch = 20.0, 0.05
    lines = ["M83", "G0 Z0.2 F6000"]
    for k in range(int(2 * radius / pitch)):
        y = -radius + (k + 0.5) * pitch
        half = math.sqrt(radius**2 - y**2)
        lines.append(f"G0 X{-half:.6f} Y{y:.6f}")
        lines.append(f"G1 X{half:.6f} E{2 * half * pitch * HEIGHT / AREA:.15f}")
    volume = math.pi * radius**2 * HEIGHT
    assert read(lines).fed[0].volume_mm3 == pytest.approx(volume, rel=1e-3)


def test_a_metre_of_filament_holds_its_published_volume() -> None:
    # 1 m of 1.75 mm is 2.405 cm³; 11.4 cm³ of 2.85 mm is 1.787 m (fabbaloo.com 2018-12-19).
    metre = read(["G1 X500 E1000"]).fed[0]
    assert metre.volume_mm3 == pytest.approx(2405, abs=0.5)
    thick = read(["G1 X500 E1787"], filaments={0: Filament(2.85, 1.24)}).fed[0]
    assert thick.volume_mm3 == pytest.approx(11_400, abs=5)


@pytest.mark.parametrize(("density", "metres"), [(1.24, 335.28), (1.27, 327.36), (1.04, 399.76)])
def test_so_many_metres_weigh_a_kilogram(density: float, metres: float) -> None:
    # Densities of data sheets (PLA, PETG, ABS) at 1.75 mm.
    filaments = {0: Filament(1.75, density)}
    fed = read(["M83", *[f"G1 X{k % 2} E{metres}" for k in range(1, 1001)]], filaments=filaments)
    assert fed.fed[0].grams == pytest.approx(1000, abs=0.02)


def test_relative_filament_is_absolute_filament() -> None:
    same(read(frame(30, 5)), read(frame(30, 5, relative=False)))


def test_inches_are_millimetres() -> None:
    same(read(frame(30, 5)), read(["G20", *frame(30, 5, 1 / 25.4)]))
    arc = ["G2 X25.4 I12.7 E25.4 F2540", "G3 X50.8 R25.4 E50.8"]
    same(read(arc), read(["G20", "G2 X1 I0.5 E1 F100", "G3 X2 R1 E2"]))


def test_relative_coordinates_are_absolute_ones() -> None:
    absolute = ["M83", "G0 X10 Y20 Z0.2 F6000", "G1 X40 E1", "G1 Y50 E1", "G2 X10 Y50 I-15 E1"]
    relative = ["M83", "G91", "G0 X10 Y20 Z0.2 F6000", "G1 X30 E1", "G1 Y30 E1", "G2 X-30 I-15 E1"]
    same(read(absolute), read(relative))


def test_the_same_place_under_another_name_is_the_same_place() -> None:
    plain = ["G0 X10 Y20 Z0.2 F6000", "G1 X40 E1", "G1 Y50 E2"]
    named = ["G92 X-5 E7", "G0 X5 Y20 Z0.2 F6000", "G1 X35 E8", "G92 Y0 E0", "G1 Y30 E1"]
    same(read(plain), read(named))
    zeroed = ["G0 X10 Y20 Z0.2 F6000", "G92", "G1 X30 E1", "G92", "G1 Y30 E1"]
    same(read(plain), read(zeroed))


def test_homing_gives_the_axes_their_own_zero_back_and_takes_no_time() -> None:
    lines = ["G1 X10 E1 F6000", "G92 X100 Y100", "G28 X", "G1 X10 Y110 E2"]
    toolpath = read(lines)
    assert toolpath.box == Box(Point(0, 0, 0), Point(10, 10, 0))
    assert read(["G28", "G1 X10 E1 F600"]) == read(["G1 X10 E1 F600", "G28"])


def test_an_arc_of_a_radius_is_the_arc_about_its_centre() -> None:
    # A quarter, and the three quarters that a negative radius means.
    for code, i, j in (("G3", -10, 0), ("G2", 0, 10)):
        same(read([f"{code} X-10 Y10 I{i} J{j} E5 F600"]), read([f"{code} X-10 Y10 R10 E5 F600"]))
    for code, i, j in (("G2", -10, 0), ("G3", 0, 10)):
        same(read([f"{code} X-10 Y10 I{i} J{j} E5 F600"]), read([f"{code} X-10 Y10 R-10 E5 F600"]))


@given(st.floats(0.5, 100), st.floats(0, math.tau), st.floats(0.05, 6.2), st.booleans())
def test_an_arc_reaches_as_far_as_its_points(
    radius: float, start: float, sweep: float, clockwise: bool
) -> None:
    turn = -1 if clockwise else 1
    points = [
        (
            radius * math.cos(start + turn * sweep * k / 500) - radius * math.cos(start),
            radius * math.sin(start + turn * sweep * k / 500) - radius * math.sin(start),
        )
        for k in range(501)
    ]
    x, y = points[-1]
    centre = f"I{-radius * math.cos(start):.15f} J{-radius * math.sin(start):.15f}"
    box = read([f"{'G2' if clockwise else 'G3'} X{x:.15f} Y{y:.15f} {centre} E1 F600"]).box
    step = radius * (sweep / 500) ** 2 + 1e-6
    assert box.low.x == pytest.approx(min(x for x, _ in points), abs=step)
    assert box.high.x == pytest.approx(max(x for x, _ in points), abs=step)
    assert box.low.y == pytest.approx(min(y for _, y in points), abs=step)
    assert box.high.y == pytest.approx(max(y for _, y in points), abs=step)


@given(st.lists(st.floats(0.0, 5).map(lambda x: round(x, 3)), min_size=1, max_size=30))
def test_retractions_cancel_out(lengths: list[float]) -> None:
    lines = ["M83", "G1 X10 E1 F600"]
    for k, length in enumerate(lengths):
        lines += [f"G1 E-{length:.3f}", f"G0 X{k % 2}", f"G1 E{length:.3f}"]
    for end in ([], ["G1 E-3"], ["G10"]):
        toolpath = read([*lines, *end])
        assert toolpath.fed[0].filament_mm == pytest.approx(1, abs=1e-9)
        assert toolpath.box == Box(Point(0, 0, 0), Point(10, 0, 0))


def test_what_comes_out_while_the_nozzle_stands_is_filament_but_no_layer() -> None:
    toolpath = read(["M83", "G0 Z5 F600", "G1 E20", "G0 Z0.3", "G1 X10 E1"])
    assert toolpath.fed[0].filament_mm == 21
    assert toolpath.layers == 1
    assert toolpath.box == Box(Point(0, 0, 0.3), Point(10, 0, 0.3))


def test_each_tool_has_its_filament() -> None:
    filaments = {0: FILAMENT, 3: Filament(2.85, 1.07)}
    lines = [
        "M83",
        "G1 X10 E1 F600",
        "T3",
        "G1 X0 E2",
        "G1 E-1",
        "M6 T0",
        "G1 X10 E4",
        "T3",
        "G1 E1",
    ]
    first, second = read(lines, filaments=filaments).fed
    assert (first.tool, first.filament_mm) == (0, 5)
    assert (second.tool, second.filament_mm) == (3, 2)
    assert second.grams == pytest.approx(2 * math.pi * 2.85**2 / 4 * 1.07 / 1000)


def test_a_tool_named_beside_another_code_is_not_put_to_use() -> None:
    assert read(["M104 S215 T1", "G1 X10 E1 F600"]).fed[0].tool == 0


def test_relative_coordinates_make_filament_relative_until_they_end() -> None:
    lines = ["M82", "G1 X10 E10 F600", "G91", "G1 E-2", "G1 Y10 E3", "G90", "G92 E0", "G1 X0 E4"]
    assert read(lines).fed[0].filament_mm == pytest.approx(10 - 2 + 3 + 4)
    lines = ["M83", "G1 X10 E10 F600", "G91", "G1 Y10 E3", "G90", "G1 X0 E4"]
    assert read(lines).fed[0].filament_mm == pytest.approx(10 + 3 + 4)
    lines = ["G91", "M82", "G1 X10 E10 F600", "G1 X10 E12"]
    assert read(lines).fed[0].filament_mm == pytest.approx(12)


def test_climbing_while_laying_is_no_layer() -> None:
    lines = ["M83", "G0 Z0.2 F600", "G1 X10 E1"]
    lines += [f"G1 X{k % 2} Z{0.2 + k / 100:.2f} E1" for k in range(1, 51)]
    toolpath = read(lines)
    assert (toolpath.layers, toolpath.climbing_moves) == (1, 50)
    assert toolpath.box.high.z == pytest.approx(0.7)


def test_four_times_the_material_at_twice_the_bead() -> None:
    # Common practice, no source: 0.8 against 0.4 mm at equal speed and proportions.
    def flow(width: float) -> float:
        area = width * width / 2
        return read([f"G1 X100 E{100 * area / AREA:.15f} F3000"]).peak_flow_mm3_s

    assert flow(0.8) / flow(0.4) == pytest.approx(4, rel=1e-9)


def test_a_rounded_speck_does_not_make_the_peak_of_the_flow() -> None:
    even = ["M83", *[f"G1 X{20 * k} E0.66 F3000" for k in range(1, 6)]]
    speck = ["G1 X100.001 E0.00100", "G0 Y10", "G1 X0 E3.3"]
    assert read([*even, *speck]).peak_flow_mm3_s == pytest.approx(
        read([*even, *speck[1:]]).peak_flow_mm3_s, rel=1e-3
    )

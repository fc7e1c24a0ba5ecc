"""Beads by layers, each worked out by hand beside the test.

Layers of 0.2, three outlines of 0.45 (a ring 1.35 wide), four solid layers, 20 % fill, 45 degrees.
"""

from decimal import Decimal
from math import isclose, pi, radians, sin, tan
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from gramhour_service.measuring.beads import Beads, beads_by_layers
from gramhour_service.measuring.bounds import Refused
from tests.measuring.shapes import USUAL, block, found, solid, stl_of

RING = 3 * 0.45
H = 0.2


def beads(*meshes: object, **profile: Any) -> Beads:
    return beads_by_layers(solid(*meshes), USUAL._replace(**profile))


def near(amount: float, expected: float, within: float = 1e-6) -> bool:
    return isclose(amount, expected, rel_tol=within, abs_tol=1e-6)


def test_the_cube_of_the_costing_rules_takes_3594_45() -> None:
    # 8 solid layers of 400, 92 with a ring of 400 − 17.3² and 20 % of 17.3².
    cube = beads(block(20, 20, 20))
    assert cube.layers == 100
    assert near(cube.volume_mm3, 8 * H * 400 + 92 * H * (400 - 17.3**2 + 0.2 * 17.3**2))
    assert round(cube.volume_mm3, 2) == 3594.45
    assert cube.support_mm3 == 0


def test_a_stepped_block_is_solid_below_its_step_and_nowhere_else_inside() -> None:
    # 20 × 20 × 10 with 10 × 20 × 10 on its left half. Lower half: 4 solid layers at the bottom; in
    # the 4 below the step only what is under it: the right part of the inside.
    stepped = trimesh.boolean.union([block(20, 20, 10), block(10, 20, 20)])
    lower_inside, upper_inside = 17.3**2, (10 - 2 * RING) * 17.3
    ring = 50 * (400 - lower_inside) + 50 * (200 - upper_inside)
    under_step = (20 - RING - 10) * 17.3
    full = 4 * lower_inside + 4 * under_step + 4 * upper_inside
    rest = 50 * (lower_inside + upper_inside) - full
    laid = beads(stepped)
    assert near(laid.ring_mm3, H * ring)
    assert near(laid.solid_mm3, H * full)
    assert near(laid.fill_mm3, H * 0.2 * rest)


def test_the_section_of_a_standing_t_has_an_offset_that_turns_round_its_inner_corners() -> None:
    # A T seen from above, 30 high: bar 30 × 10, stem 10 × 20. Its inside is what lies at least
    # 1.35 from the edge: bar 27.3 × 7.3, stem 7.3 × 20, and around each of the two inner corners
    # the ring's side is a quarter circle, so that the inside gains 1.35² (1 − π/4) on the square.
    t = trimesh.boolean.union([block(30, 10, 30), block(10, 20, 30, at=(10, 10, 0))])
    corner = RING**2 * (1 - pi / 4)
    inside = (30 - 2 * RING) * (10 - 2 * RING) + (10 - 2 * RING) * 20 + 2 * corner
    laid = beads(t)
    assert near(laid.ring_mm3, H * 150 * (500 - inside), within=1e-4)
    assert near(laid.solid_mm3, H * 8 * inside, within=1e-4)
    assert near(laid.fill_mm3, H * 0.2 * 142 * inside, within=1e-4)


def test_an_upright_t_is_supported_under_both_arms_down_to_the_plate() -> None:
    # Stem 10 × 10 × 20, arms to 30 × 10 above it: 2 · 10 × 10 × 20 of support at 20 %.
    t = trimesh.boolean.union([block(10, 10, 20, at=(10, 0, 0)), block(30, 10, 10, at=(0, 0, 20))])
    laid = beads(t)
    assert near(laid.support_mm3, 0.2 * 2 * 10 * 10 * 20)
    # Solid: stem bottom 4, top 4 of the bar, and the 4 above the arms: only over what hangs out.
    stem, bar = 7.3**2, 27.3 * 7.3
    over_arms = 2 * (10 - RING) * 7.3
    assert near(laid.solid_mm3, H * (4 * stem + 4 * over_arms + 4 * bar))


def test_a_bridge_inside_a_frame_is_supported_down_to_the_frame_and_not_to_the_plate() -> None:
    # A frame of 40 × 10 × 30 with a window of 30 × 20 from 5 above the plate: support fills the
    # window, 30 × 10 × 20. Another 10 × 10 × 5 shelf stands within: under it 15, above it 30 − …
    window = block(30, 30, 20, at=(5, -10, 5))
    frame = trimesh.boolean.difference([block(40, 10, 30), window])
    assert near(beads(frame).support_mm3, 0.2 * 30 * 10 * 20)
    # A shelf of 10 × 10 × 1 from the left side, its top 8 above the sill: the bridge over it is
    # supported on the shelf, the shelf on the sill.
    shelved = trimesh.boolean.union([frame, block(10, 10, 1, at=(5, 0, 12))])
    expected = 20 * 10 * 20 + 10 * 10 * (25 - 13) + 10 * 10 * (12 - 5)
    assert near(beads(shelved).support_mm3, 0.2 * expected)


@pytest.mark.parametrize(("leaning", "is_supported"), [(40, False), (44, False), (46, True)])
def test_support_begins_where_a_side_leans_over_by_more_than_the_angle(
    leaning: float, is_supported: bool
) -> None:
    # An upturned frustum, 10 wide at the plate, whose four sides lean out over 20 of height.
    out = 20 * tan(radians(leaning))
    low = [(x, y, 0) for x, y in ((0, 0), (10, 0), (10, 10), (0, 10))]
    high = [
        (x + dx * out, y + dy * out, 20)
        for (x, y, _), dx, dy in zip(low, (-1, 1, 1, -1), (-1, -1, 1, 1), strict=True)
    ]
    frustum = trimesh.convex.convex_hull(np.array(low + high))
    support = beads(frustum).support_mm3
    if not is_supported:
        assert support == 0
    else:
        # What hangs over, layer by layer from the middle of the lowest one: the volume around it.
        around = (10 + 2 * out) ** 2 * 20 - frustum.volume
        assert near(support, 0.2 * around, within=0.02)


def test_at_ninety_degrees_nothing_is_supported_and_at_none_all_that_hangs_over() -> None:
    table = trimesh.boolean.union(
        [block(10, 10, 20, at=(10, 0, 0)), block(30, 10, 2, at=(0, 0, 20))]
    )
    assert beads(table, support_angle_deg=Decimal(90)).support_mm3 == 0
    assert near(beads(table, support_angle_deg=Decimal(0)).support_mm3, 0.2 * 200 * 20)


def test_overlapping_bodies_are_printed_once() -> None:
    one = trimesh.boolean.union([block(20, 20, 20), block(20, 20, 20, at=(10, 0, 0))])
    overlapping = beads(block(20, 20, 20), block(20, 20, 20, at=(10, 0, 0)))
    assert near(overlapping.volume_mm3, beads(one).volume_mm3)


def test_a_hollow_has_rings_of_its_own_and_is_supported_within() -> None:
    # 30³ around a hollow of 10³: ring of the outside, and of the hollow (outward, round corners).
    hollow = block(10, 10, 10, at=(10, 10, 10))
    hollow.invert()
    laid = beads(block(30, 30, 30), hollow)
    around = (10 + 2 * RING) ** 2 - (4 - pi) * RING**2 - 100
    assert near(laid.ring_mm3, H * (150 * (900 - 27.3**2) + 50 * around), within=1e-4)
    assert near(laid.support_mm3, 0.2 * 1000)


def test_a_body_in_a_hollow_is_there() -> None:
    hollow = block(16, 16, 16, at=(2, 2, 2))
    hollow.invert()
    core = block(6, 6, 6, at=(7, 7, 2))
    with_core, without = beads(block(20, 20, 20), hollow, core), beads(block(20, 20, 20), hollow)
    # The core's own ring, in each of its 30 layers; and no support where it stands.
    assert near(with_core.ring_mm3 - without.ring_mm3, H * 30 * (36 - (6 - 2 * RING) ** 2))
    assert near(without.support_mm3, 0.2 * 16**3)
    assert near(with_core.support_mm3, 0.2 * (16**3 - 6**3))


@pytest.mark.parametrize("thick", [0.1, 0.4, 0.5, 0.89, 0.91, 1.3, 1.8, 2.6, 2.699])
def test_a_wall_that_the_rings_of_both_sides_fill_takes_its_volume_once(thick: float) -> None:
    wall = beads(block(50, thick, 20))
    assert near(wall.ring_mm3, 50 * thick * 20)
    assert (wall.solid_mm3, wall.fill_mm3) == (0, 0)
    assert [each.word for each in wall.warnings] == ["walls_thinner_than_bead"] * (thick < 0.45)


def test_a_tube_whose_wall_is_thinner_than_its_rings_takes_its_volume() -> None:
    # A ring of polygons with 96 corners: 48 sin(2π/96) (R² − r²) by its height.
    tube = beads(trimesh.creation.annulus(r_min=18.2, r_max=20, height=25, sections=96))
    assert near(tube.volume_mm3, 48 * sin(pi / 48) * (20**2 - 18.2**2) * 25)
    assert tube.volume_mm3 == tube.ring_mm3


SIDES = st.tuples(*[st.floats(0.2, 9)] * 2, st.integers(1, 12))


@given(
    one=SIDES,
    other=SIDES,
    shift=st.tuples(*[st.floats(-9, 9)] * 2, st.integers(-12, 12)),
    outlines=st.integers(0, 4),
    solid_layers=st.integers(0, 4),
    fill=st.integers(0, 100),
)
@settings(max_examples=settings().max_examples // 15)
def test_nothing_is_laid_twice_so_no_part_takes_more_than_its_volume(
    one: Any, other: Any, shift: Any, outlines: int, solid_layers: int, fill: int
) -> None:
    # Two blocks of whole layers that may overlap, touch or stand apart.
    (a, b, c), (d, e, f) = ((x, y, H * layers) for x, y, layers in (one, other))
    at = (shift[0], shift[1], H * shift[2])
    common = 1.0
    for low, high, start, side in zip((0, 0, 0), (a, b, c), at, (d, e, f), strict=True):
        common *= max(0.0, min(high, start + side) - max(low, start))
    laid = beads(
        block(a, b, c), block(d, e, f, at=at),
        outlines=outlines, solid_layers=solid_layers, fill_pct=Decimal(fill),
    )  # fmt: skip
    part = laid.ring_mm3 + laid.solid_mm3 + laid.fill_mm3
    volume = a * b * c + d * e * f - common
    noise = volume * 1e-4  # places in a binary STL are of single precision
    assert volume * fill / 100 - noise <= part <= volume + noise


def test_a_wall_thinner_than_a_bead_is_told() -> None:
    with_rib = beads(block(20, 20, 20), block(0.3, 5, 20, at=(30, 0, 0)))
    assert [w.word for w in with_rib.warnings] == ["walls_thinner_than_bead"]
    assert beads(trimesh.creation.cone(10, 30)).warnings == ()


@pytest.mark.parametrize(
    ("height", "layers"), [(20, 100), (0.05, 1), (1.04, 5), (1.1, 6), (1.16, 6), (30.000001, 150)]
)
def test_a_layer_is_laid_where_its_middle_lies_within_the_part(height: float, layers: int) -> None:
    assert beads(block(10, 10, height)).layers == layers


def test_without_solid_layers_and_outlines_all_is_fill() -> None:
    laid = beads(block(20, 20, 20), outlines=0, solid_layers=0)
    assert near(laid.fill_mm3, 0.2 * 8000)
    assert laid.volume_mm3 == laid.fill_mm3


@pytest.mark.parametrize("solid_layers", [1, 2, 3, 4, 5, 7, 8, 11])
def test_any_number_of_solid_layers_counts_from_each_surface(solid_layers: int) -> None:
    laid = beads(block(20, 20, 20), solid_layers=solid_layers)
    assert near(laid.solid_mm3, H * 2 * solid_layers * 17.3**2)


def test_a_part_lower_than_its_solid_layers_is_solid() -> None:
    assert near(beads(block(20, 20, 1.4)).fill_mm3, 0)


def test_filled_in_full_a_part_takes_its_volume() -> None:
    torus = trimesh.creation.torus(20, 5, major_sections=64, minor_sections=64)
    laid = beads(torus, fill_pct=Decimal(100), support_angle_deg=Decimal(90))
    # Layers are upright steps: within 0.2 % of the mesh's own volume at 50 layers.
    assert near(laid.volume_mm3, torus.volume, within=0.002)


def test_far_too_many_layers_are_told() -> None:
    with pytest.raises(Refused, match="more than 20,000 layers; if the file is in another unit"):
        beads(block(5, 5, 500), layer_mm=Decimal("0.02"))


def test_an_open_surface_has_no_solids_to_lay_beads_for() -> None:
    cube = block(20, 20, 20)
    assert found(stl_of(trimesh.Trimesh(cube.vertices, cube.faces[1:]))).solids is None

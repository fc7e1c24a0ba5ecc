"""What must not change what a mesh measures: where it stands, how it is cut, in what order."""

from decimal import Decimal
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from gramhour_service.measuring.beads import beads_by_layers
from gramhour_service.measuring.measurement import Found, measure
from gramhour_service.measuring.mesh import FileRead, Surface
from tests.measuring.shapes import USUAL, block

SHAPES: dict[str, Any] = {
    "block": block(31, 17, 11),
    "sphere": trimesh.creation.icosphere(2, 13.3),
    "torus": trimesh.creation.torus(17, 4.1, major_sections=24, minor_sections=12),
    "two": trimesh.util.concatenate([block(9, 8, 7), block(5, 5, 5, at=(20, 3, 0))]),
}
shapes = st.sampled_from(sorted(SHAPES)).map(SHAPES.__getitem__)
moves = st.tuples(*[st.floats(-200, 200)] * 3)
turns = st.tuples(*[st.floats(-3, 3)] * 3)


split: Any = trimesh.remesh.subdivide


def transformation(kind: str, *of: Any) -> Any:
    return getattr(trimesh.transformations, kind)(*of)


def measured(vertices: Any, faces: Any) -> Found:
    surface = Surface(np.asarray(vertices, float), np.asarray(faces, np.int64))
    return measure(FileRead((surface,), has_unit=True))


def sizes(found: Found) -> tuple[float, float]:
    return float(found.measured.volume_mm3 or 0), float(found.measured.area_mm2)


@given(shapes, moves, turns)
def test_moved_and_turned_it_holds_the_same(mesh: Any, move: Any, turn: Any) -> None:
    turned = mesh.vertices @ transformation("euler_matrix", *turn)[:3, :3].T + move
    found, still = measured(turned, mesh.faces), measured(mesh.vertices, mesh.faces)
    assert sizes(found) == pytest.approx(sizes(still), rel=1e-6)
    assert found.measured.bodies == still.measured.bodies
    assert found.measured.watertight


@given(shapes, st.integers(0, 2**32 - 1))
def test_triangles_and_corners_in_another_order_measure_the_same(mesh: Any, seed: int) -> None:
    random = np.random.default_rng(seed)
    faces = random.permutation(mesh.faces)
    first = random.integers(0, 3, len(faces))
    corners = faces[np.arange(len(faces))[:, None], (first[:, None] + np.arange(3)) % 3]
    found = measured(mesh.vertices, corners)
    assert found.measured == measured(mesh.vertices, mesh.faces).measured


@given(shapes, st.integers(0, 2))
def test_each_triangle_split_into_four_measures_the_same(mesh: Any, times: int) -> None:
    vertices, faces = mesh.vertices, mesh.faces
    for _ in range(times):
        vertices, faces = split(vertices, faces)
    found = measured(vertices, faces)
    assert sizes(found) == pytest.approx(sizes(measured(mesh.vertices, mesh.faces)), rel=1e-6)
    assert found.measured.triangles == 4**times * len(mesh.faces)


@given(shapes, st.floats(0.5, 20))
def test_at_another_scale_the_volume_grows_by_its_cube_and_the_area_by_its_square(
    mesh: Any, scale: float
) -> None:
    volume, area = sizes(measured(mesh.vertices, mesh.faces))
    found = measured(mesh.vertices * scale, mesh.faces)
    assert sizes(found) == pytest.approx((volume * scale**3, area * scale**2), rel=2e-5)


@given(shapes, st.tuples(st.floats(-50, 50), st.floats(-50, 50)), st.floats(-3, 3))
@settings(max_examples=settings().max_examples // 15)
def test_moved_on_the_plate_and_turned_about_the_upright_it_takes_the_same_beads(
    mesh: Any, move: tuple[float, float], turn: float
) -> None:
    there = transformation("rotation_matrix", turn, (0, 0, 1))[:3, :3]
    moved = mesh.vertices @ there.T + (*move, 0)
    solids, still = measured(moved, mesh.faces).solids, measured(mesh.vertices, mesh.faces).solids
    assert solids is not None
    assert still is not None
    laid, before = beads_by_layers(solids.surface, USUAL), beads_by_layers(still.surface, USUAL)
    assert laid.layers == before.layers
    assert laid.volume_mm3 == pytest.approx(before.volume_mm3, rel=1e-4)


@given(shapes, st.sampled_from([Decimal(f) for f in (0, 10, 35, 80, 100)]))
def test_fuller_never_takes_less_and_never_more_than_all(mesh: Any, fill: Decimal) -> None:
    solids = measured(mesh.vertices, mesh.faces).solids
    assert solids is not None
    usual = USUAL._replace(support_angle_deg=Decimal(90))
    full = beads_by_layers(solids.surface, usual._replace(fill_pct=Decimal(100)))
    some = beads_by_layers(solids.surface, usual._replace(fill_pct=fill))
    none = beads_by_layers(solids.surface, usual._replace(fill_pct=Decimal(0)))
    assert none.volume_mm3 <= some.volume_mm3 + 1e-9
    assert some.volume_mm3 <= full.volume_mm3 + 1e-9

"""Shapes whose volume and area are known, and the same by a second mesh library.

A mesh is inscribed in its round shape, so it holds a little less: how much depends on how finely
it is drawn, and is said with each shape.
"""

from math import isclose, pi, sqrt
from typing import Any, NamedTuple

import numpy as np
import pytest
import trimesh

from tests.measuring.shapes import block, measured, stl_of


class Known(NamedTuple):
    mesh: Any
    volume: float
    area: float
    within: float


def tetrahedron(side: float) -> Any:
    corners = np.array([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]) * side / sqrt(8)
    return trimesh.Trimesh(corners, [(0, 1, 2), (0, 2, 3), (0, 3, 1), (1, 3, 2)])


KNOWN = {
    "cube": Known(block(20, 20, 20), 8000, 2400, 1e-9),
    "tetrahedron": Known(tetrahedron(30), 30**3 / (6 * sqrt(2)), sqrt(3) * 30**2, 1e-6),
    # 20,480 triangles
    "sphere": Known(trimesh.creation.icosphere(5, 10), 4 / 3 * pi * 10**3, 4 * pi * 10**2, 0.001),
    # 512 corners around
    "cylinder": Known(
        trimesh.creation.cylinder(8, 25, sections=512), pi * 8**2 * 25, 2 * pi * 8 * 33, 0.0001
    ),
    "cone": Known(
        trimesh.creation.cone(9, 12, sections=512), pi * 9**2 * 12 / 3, pi * 9 * (9 + 15), 0.0001
    ),
    # 256 around, 128 across
    "torus": Known(
        trimesh.creation.torus(20, 5, major_sections=256, minor_sections=128),
        2 * pi**2 * 20 * 5**2,
        4 * pi**2 * 20 * 5,
        0.001,
    ),
}


@pytest.mark.parametrize("known", KNOWN.values(), ids=list(KNOWN))
def test_a_shape_holds_what_its_closed_form_says_less_what_its_corners_cut_off(
    known: Known,
) -> None:
    mesh = measured(stl_of(known.mesh))
    assert mesh.volume_mm3 is not None
    assert known.volume * (1 - known.within) <= float(mesh.volume_mm3) <= known.volume * 1.000001
    assert known.area * (1 - known.within) <= float(mesh.area_mm2) <= known.area * 1.000001


@pytest.mark.parametrize("known", KNOWN.values(), ids=list(KNOWN))
def test_a_shape_measures_as_the_second_library_measures_it(known: Known) -> None:
    mesh = measured(stl_of(known.mesh))
    # STL keeps coordinates in single precision, and answers have 3 decimals.
    assert isclose(float(mesh.volume_mm3 or 0), known.mesh.volume, rel_tol=1e-6)
    assert isclose(float(mesh.area_mm2), known.mesh.area, rel_tol=1e-6)
    assert np.allclose([float(side) for side in mesh.box], known.mesh.extents, atol=0.0006)
    assert (mesh.triangles, mesh.bodies, mesh.hollows) == (len(known.mesh.faces), 1, 0)
    assert mesh.watertight
    assert mesh.warnings == ()


def test_the_mean_wall_of_a_thin_sheet_is_nearly_its_thickness() -> None:
    # 2·V/A of 100 × 100 × 1: 20,000/20,400.
    assert str(measured(stl_of(block(100, 100, 1))).mean_wall_mm) == "0.980"

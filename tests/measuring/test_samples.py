"""The open sample files of the 3MF core specification (samples/, with their licence).

Round shapes against their closed forms as far as their drawing allows, all against a second mesh
library, which reads coordinates in double precision, this reader in single.
"""

from math import isclose, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh

from gramhour_service.measuring.size import Measured
from tests.measuring.shapes import THREEMF, measured

SAMPLES = Path(__file__).parent / "samples"
NAMES = sorted(path.stem for path in SAMPLES.glob("*.3mf"))


def sample(name: str) -> Measured:
    return measured((SAMPLES / f"{name}.3mf").read_bytes(), THREEMF)


def test_the_box_holds_ten_by_twenty_by_thirty() -> None:
    box = sample("box")
    assert str(box.volume_mm3) == "6000.000"
    assert str(box.area_mm2) == "2200.000"
    assert str(box.mean_wall_mm) == "5.455"


def test_the_cylinder_is_the_prism_over_its_regular_polygon_1_4_percent_under_the_round_one() -> (
    None
):
    cylinder = sample("cylinder")
    corners = 22
    inscribed = corners / 2 * 10**2 * sin(radians(360 / corners)) * 20
    # Coordinates stand with 3 decimals.
    assert isclose(float(cylinder.volume_mm3 or 0), inscribed, rel_tol=1e-4)
    assert 0.986 < float(cylinder.volume_mm3 or 0) / (pi * 10**2 * 20) < 0.987


def test_the_sphere_is_0_4_percent_under_the_round_one() -> None:
    sphere = sample("sphere")
    assert 0.996 < float(sphere.volume_mm3 or 0) / (4 / 3 * pi * 10**3) < 0.9965
    assert 0.9975 < float(sphere.area_mm2) / (4 * pi * 10**2) < 0.9985


def test_the_torus_is_1_6_percent_under_the_round_one() -> None:
    torus = sample("torus")
    assert 0.983 < float(torus.volume_mm3 or 0) / (2 * pi**2 * 10 * 2**2) < 0.985
    assert 0.994 < float(torus.area_mm2) / (4 * pi**2 * 10 * 2) < 0.996


def test_six_items_of_one_cylinder_hold_six_cylinders() -> None:
    six, one = sample("multiple_cylinders"), sample("cylinder")
    assert six.bodies == 6
    assert isclose(float(six.volume_mm3 or 0), 6 * float(one.volume_mm3 or 0), rel_tol=5e-6)


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_measures_as_the_second_library_measures_it(name: str) -> None:
    ours, theirs = sample(name), trimesh.load_mesh(SAMPLES / f"{name}.3mf")
    assert isclose(float(ours.volume_mm3 or 0), theirs.volume, rel_tol=1e-6)
    assert isclose(float(ours.area_mm2), theirs.area, rel_tol=1e-6)
    assert np.allclose([float(side) for side in ours.box], theirs.extents, atol=0.0006)
    assert ours.bodies == theirs.body_count
    assert ours.watertight

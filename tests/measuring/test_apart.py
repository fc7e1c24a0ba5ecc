"""A process of its own: what a hostile file costs is bounded, and told in words."""

import struct
from decimal import Decimal

import pytest
import trimesh

from gramhour_service.measuring.apart import measure_apart
from gramhour_service.measuring.bounds import Limits, Refused
from tests.measuring.shapes import (
    LIMITS,
    STL,
    THREEMF,
    USUAL,
    block,
    measured,
    mesh_object,
    model,
    package,
    stl_of,
)

CUBE = stl_of(block(20, 20, 20))


def refused(content: bytes, media_type: str = STL, limits: Limits = LIMITS) -> str:
    with pytest.raises(Refused) as refusal:
        measure_apart(content, media_type, limits, [USUAL])
    return f"{refusal.value.kind}: {refusal.value.detail}"


def test_apart_a_file_measures_as_it_does_here_and_each_profile_lays_its_beads() -> None:
    solid = USUAL._replace(fill_pct=Decimal(100))
    found = measure_apart(CUBE, STL, LIMITS, [USUAL, solid])
    assert found.measured == measured(CUBE)
    assert [(str(laid.volume_mm3), laid.layers) for laid in found.laid if laid] == [
        ("3594.451", 100),
        ("8000.000", 100),
    ]


def test_apart_a_package_measures_as_it_does_here() -> None:
    content = package(model(mesh_object(1, block(10, 20, 30)), '<item objectid="1"/>'))
    assert measure_apart(content, THREEMF, LIMITS).measured == measured(content, THREEMF)


def test_an_open_surface_has_no_estimate() -> None:
    cube = block(20, 20, 20)
    found = measure_apart(
        stl_of(trimesh.Trimesh(cube.vertices, cube.faces[1:])), STL, LIMITS, [USUAL]
    )
    assert found.laid == (None,)
    assert [warned.word for warned in found.measured.warnings] == ["holes"]


def test_what_beads_tell_stands_with_what_the_mesh_tells() -> None:
    found = measure_apart(stl_of(block(50, 0.4, 3)), STL, LIMITS, [USUAL, USUAL])
    assert [warned.word for warned in found.measured.warnings] == ["walls_thinner_than_bead"]


def test_a_refusal_comes_back_as_it_was() -> None:
    assert refused(b"") == "unreadable: the file is empty"
    assert refused(CUBE, "text/html").startswith("other-media-type: ")
    assert refused(CUBE, limits=Limits(file_bytes=100)).startswith("too-large: the file has 684")


def test_a_file_that_needs_more_memory_than_allowed_is_told_so() -> None:
    content = stl_of(trimesh.creation.icosphere(8))
    assert refused(content, limits=Limits(memory_bytes=400 << 20)) == (
        "too-large: measuring the file takes more than 400 MiB of memory; "
        "export it with a coarser resolution"
    )


def test_a_file_that_takes_more_time_than_allowed_is_told_so() -> None:
    # Tall needles: each of 20,000 layers cuts each of them.
    needles = [trimesh.creation.cylinder(0.5, 1900, sections=40) for _ in range(300)]
    for number, needle in enumerate(needles):
        needle.apply_translation((2 * number, 0, 0))
    content = stl_of(trimesh.util.concatenate(needles))
    assert refused(content, limits=Limits(seconds=1)) == (
        "takes-too-long: measuring the file takes more than 1 s; export it with a coarser "
        "resolution, or split it"
    )


def test_a_count_that_promises_two_billion_triangles_allocates_nothing() -> None:
    content = bytes(80) + struct.pack("<I", 2**31) + bytes(5000)
    assert refused(content).startswith("unreadable: a binary STL file of 2,147,483,648 triangles")

"""STL from strangers: every odd file is told in words, or measured rightly."""

import struct

import numpy as np
import pytest
import trimesh

from gramhour_service.measuring.bounds import Limits, Refused
from gramhour_service.measuring.measurement import NO_AREA
from tests.measuring.shapes import block, measured, stl_of

CUBE = stl_of(block(20, 20, 20))
ASCII_CUBE = trimesh.exchange.stl.export_stl_ascii(block(20, 20, 20)).encode()


def words_of(content: bytes, media_type: str = "model/stl", limits: Limits | None = None) -> str:
    with pytest.raises(Refused) as refusal:
        measured(content, media_type, limits or Limits())
    return f"{refusal.value.kind}: {refusal.value.detail}"


def with_corner(value: float) -> bytes:
    """Give the third triangle of the cube a first x of another value."""
    at = 84 + 2 * 50 + 12
    return CUBE[:at] + struct.pack("<f", value) + CUBE[at + 4 :]


def test_the_same_cube_in_ascii_and_binary_measures_the_same() -> None:
    assert measured(ASCII_CUBE) == measured(CUBE)


def test_a_binary_header_may_begin_with_solid() -> None:
    assert measured(b"solid" + CUBE[5:]) == measured(CUBE)


def test_ascii_is_read_whatever_its_case_line_ends_and_number_of_solids() -> None:
    other = trimesh.exchange.stl.export_stl_ascii(block(20, 20, 20, at=(50, 0, 0))).encode()
    both = (ASCII_CUBE + b"\n" + other).replace(b"\n", b"\r\n").upper()
    assert str(measured(both).volume_mm3) == "16000.000"
    assert measured(both).bodies == 2


def test_a_byte_order_mark_before_ascii_is_passed_over() -> None:
    assert measured(b"\xef\xbb\xbf" + ASCII_CUBE) == measured(CUBE)


def test_an_empty_file_is_told() -> None:
    assert words_of(b"") == "unreadable: the file is empty"
    assert words_of(b"  \n") == "unreadable: the file is empty"


def test_a_file_of_a_header_only_is_told() -> None:
    assert words_of(b"x" * 80 + bytes(4)) == "unreadable: the file holds no triangle"
    assert words_of(b"solid empty\nendsolid empty\n") == "unreadable: the file holds no triangle"


def test_garbage_is_told_and_is_not_taken_for_a_mesh_without_faces() -> None:
    assert words_of(b"\0hello") == (
        "unreadable: the file is too short for an STL file, and no ASCII one"
    )
    assert words_of(b"\xffhello, this is a letter\n" * 20).startswith(
        "unreadable: a binary STL file"
    )


def test_a_text_is_told_to_be_one() -> None:
    for letter in (b"hello", b"hello, this is a letter\n" * 20, "Grüße\n".encode() * 100):
        assert words_of(letter) == (
            "unreadable: the file is a text that is no STL file: an ASCII one begins with the word "
            "solid and lists facets; export the part as STL again"
        )


@pytest.mark.parametrize(
    "content", [CUBE[:-1], CUBE[:-50], CUBE + b"\0", CUBE + b"x" * 50], ids=range(4)
)
def test_a_cut_file_or_one_with_bytes_behind_is_told_with_both_sizes(content: bytes) -> None:
    assert words_of(content) == (
        "unreadable: a binary STL file of 12 triangles has 684 bytes, this one has "
        f"{len(content)}: it is cut off, or no STL file; export it again"
    )


def test_a_cut_ascii_file_is_told_with_its_line() -> None:
    whole_facets = ASCII_CUBE[: ASCII_CUBE.rindex(b"endsolid")]
    assert "the ASCII STL file ends before endsolid" in words_of(whole_facets)
    assert words_of(b"solid cut\nfacet normal 0 0 1\nouter loop\nvertex 0 0") == (
        "unreadable: line 2: expected a whole facet of three finite vertices, or endsolid; "
        "export the file again"
    )
    assert "line 4" in words_of(b"solid a\nendsolid a\n\nfacet normal 0 0 1\n")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_a_corner_that_is_no_number_is_told_and_its_triangle_is_not_dropped(value: float) -> None:
    assert words_of(with_corner(value)) == (
        "unreadable: 1 of 36 corners of triangles have a coordinate that is no finite number, the "
        "first is number 7; export the file again"
    )


@pytest.mark.parametrize("word", ["nan", "inf", "1e", "1,5", "0x10", "1_000"])
def test_an_ascii_corner_that_is_no_number_is_told(word: str) -> None:
    content = ASCII_CUBE.replace(b"vertex ", b"vertex " + word.encode() + b" ", 1)
    third = content.replace(b"\n", b" cut\n", 0)
    assert "expected a whole facet of three finite vertices" in words_of(third)


def test_a_coordinate_beyond_all_sense_is_told() -> None:
    assert "a coordinate is 1e+30 mm from the origin" in words_of(with_corner(1e30))
    huge = ASCII_CUBE.replace(b"2.0000000000000000E+01", b"2E+999").replace(b"20.0", b"2E+999")
    assert words_of(huge).startswith("unreadable: ")


def test_a_hole_leaves_no_volume_and_says_so() -> None:
    open_cube = trimesh.Trimesh(block(20, 20, 20).vertices, block(20, 20, 20).faces[:-2])
    mesh = measured(stl_of(open_cube))
    assert (mesh.volume_mm3, mesh.mean_wall_mm, mesh.watertight) == (None, None, False)
    assert [warned.word for warned in mesh.warnings] == ["holes"]
    assert "open along 4 edges" in mesh.warnings[0].says
    assert str(mesh.area_mm2) == "2000.000"


def test_a_cube_inside_out_holds_what_it_holds_and_not_less_than_nothing() -> None:
    cube = block(20, 20, 20)
    cube.invert()
    mesh = measured(stl_of(cube))
    assert str(mesh.volume_mm3) == "8000.000"
    assert [warned.word for warned in mesh.warnings] == ["inside_out"]


@pytest.mark.parametrize("turned", [(0,), (3, 4, 8), tuple(range(11))])
def test_triangles_that_face_the_other_way_are_turned(turned: tuple[int, ...]) -> None:
    cube = block(20, 20, 20)
    faces = np.array(cube.faces)
    faces[list(turned)] = faces[list(turned)][:, ::-1]
    mesh = measured(stl_of(trimesh.Trimesh(cube.vertices, faces, process=False)))
    assert str(mesh.volume_mm3) == "8000.000"
    assert mesh.warnings[0].word == "winding_mixed"


def test_a_surface_with_one_side_only_has_no_outside() -> None:
    # The projective plane of 6 vertices: closed, and no triangle can be turned to agree with all.
    corners = np.random.default_rng(1).uniform(0, 50, (6, 3))
    faces = [
        *((0, 1, 2), (0, 2, 3), (0, 3, 4), (0, 4, 5), (0, 5, 1)),
        *((1, 2, 4), (2, 3, 5), (3, 4, 1), (4, 5, 2), (5, 1, 3)),
    ]
    mesh = measured(stl_of(trimesh.Trimesh(corners, faces, process=False)))
    assert mesh.volume_mm3 is None
    assert [warned.word for warned in mesh.warnings] == ["no_outside"]


def test_a_hollow_is_left_out_of_the_volume() -> None:
    hollow = block(10, 10, 10, at=(5, 5, 5))
    hollow.invert()
    mesh = measured(stl_of(trimesh.util.concatenate([block(20, 20, 20), hollow])))
    assert (str(mesh.volume_mm3), mesh.bodies, mesh.hollows) == ("7000.000", 1, 1)
    assert mesh.warnings == ()


def test_a_body_inside_out_beside_a_sound_one_is_no_hollow_of_it() -> None:
    other = block(10, 10, 10, at=(30, 0, 0))
    other.invert()
    mesh = measured(stl_of(trimesh.util.concatenate([block(20, 20, 20), other])))
    assert (str(mesh.volume_mm3), mesh.bodies, mesh.hollows) == ("9000.000", 2, 0)
    assert [warned.word for warned in mesh.warnings] == ["inside_out"]


def test_bodies_that_may_overlap_are_told() -> None:
    both = trimesh.util.concatenate([block(20, 20, 20), block(20, 20, 20, at=(10, 0, 0))])
    mesh = measured(stl_of(both))
    assert str(mesh.volume_mm3) == "16000.000"
    assert [warned.word for warned in mesh.warnings] == ["bodies_may_overlap"]


def test_corners_apart_by_the_noise_of_single_precision_still_meet() -> None:
    sphere = trimesh.creation.icosphere(3, 40)
    corners = sphere.vertices[sphere.faces].reshape(-1, 3)
    noise = np.random.default_rng(7).uniform(-4e-6, 4e-6, corners.shape)
    loose = trimesh.Trimesh(corners + noise, np.arange(len(corners)).reshape(-1, 3), process=False)
    assert not trimesh.load_mesh(
        file_obj=trimesh.util.wrap_as_stream(stl_of(loose)), file_type="stl"
    ).is_watertight
    mesh = measured(stl_of(loose))
    assert mesh.watertight
    assert abs(float(mesh.volume_mm3 or 0) / sphere.volume - 1) < 1e-6


def test_triangles_without_area_do_not_make_a_mesh_open() -> None:
    sliver = CUBE[84 + 12 : 84 + 24] * 3
    content = CUBE[:80] + struct.pack("<I", 13) + CUBE[84:] + bytes(12) + sliver + bytes(2)
    mesh = measured(content)
    assert (str(mesh.volume_mm3), mesh.triangles, mesh.watertight) == ("8000.000", 13, True)
    alone = CUBE[:80] + struct.pack("<I", 1) + bytes(12) + sliver + bytes(2)
    assert words_of(alone) == f"unreadable: {NO_AREA}"


def test_a_closed_surface_without_area_is_told() -> None:
    line = struct.pack("<9f", 0, 0, 0, 20, 20, 20, 40, 40, 40)
    back = struct.pack("<9f", 40, 40, 40, 20, 20, 20, 0, 0, 0)
    flat = b"".join(bytes(12) + corners + bytes(2) for corners in (line, back))
    assert words_of(CUBE[:80] + struct.pack("<I", 2) + flat) == f"unreadable: {NO_AREA}"
    assert words_of(stl_of(block(0.001, 0.001, 0.001))) == f"unreadable: {NO_AREA}"


@pytest.mark.parametrize("more", [b"x", b"e", b".", b" "])
def test_a_number_of_a_million_digits_is_read_once(more: bytes) -> None:
    """Were it tried again from each of its digits, this would take days."""
    begun = b"solid\nfacet normal 0 0 0 outer loop vertex 1 1 "
    assert words_of(begun + b"1" * 1_000_000 + more).startswith("unreadable: line 2: expected ")


@pytest.mark.parametrize("size", [0.5, 3000])
def test_a_size_that_suggests_another_unit_is_told(size: float) -> None:
    (warned,) = measured(stl_of(block(size, size, size))).warnings
    assert warned.word == "unit_suspicious"
    assert "has no unit" in warned.says


def test_too_many_triangles_and_too_many_bytes_are_told_before_they_are_read() -> None:
    assert words_of(CUBE, limits=Limits(triangles=11)).startswith(
        "too-large: the file has 12 triangles, at most 11 are read"
    )
    assert words_of(ASCII_CUBE, limits=Limits(triangles=11)).startswith("too-large: ")
    assert words_of(CUBE, limits=Limits(file_bytes=600)).startswith(
        "too-large: the file has 684 bytes, at most 600 are read"
    )


def test_another_media_type_is_told() -> None:
    assert words_of(CUBE, "image/png") == (
        "other-media-type: can measure model/stl and model/3mf, not image/png"
    )

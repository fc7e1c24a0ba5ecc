"""3MF by the core specification: units, components, transforms, build items; hostile packages."""

import io
import zipfile

import numpy as np
import pytest

from gramhour_service.measuring.bounds import Limits, Refused
from tests.measuring.shapes import THREEMF, block, measured, mesh_object, model, package

CUBE = mesh_object(1, block(10, 10, 10))
ITEM = '<item objectid="1"/>'


def volume_of(document: str) -> str:
    return str(measured(package(document), THREEMF).volume_mm3)


def words_of(content: bytes, limits: Limits | None = None) -> str:
    with pytest.raises(Refused) as refusal:
        measured(content, THREEMF, limits or Limits())
    return f"{refusal.value.kind}: {refusal.value.detail}"


@pytest.mark.parametrize(
    ("unit", "in_mm"),
    [
        *(("micron", 0.001), ("millimeter", 1), ("centimeter", 10)),
        *(("inch", 25.4), ("foot", 304.8), ("meter", 1000)),
    ],
)
def test_the_unit_of_the_file_counts(unit: str, in_mm: float) -> None:
    side = 10 / in_mm
    document = model(mesh_object(1, block(side, side, side)), ITEM, unit)
    mesh = measured(package(document), THREEMF)
    assert float(mesh.volume_mm3 or 0) == pytest.approx(1000, rel=1e-6)
    assert mesh.warnings == ()


def test_the_move_of_a_build_item_is_in_the_unit_of_the_file() -> None:
    items = ITEM + '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 2 0 0"/>'
    document = model(mesh_object(1, block(1, 1, 1)), items, "inch")
    mesh = measured(package(document), THREEMF)
    assert str(mesh.box.x) == "76.200"
    assert mesh.bodies == 2


def test_components_take_their_own_transform_and_then_that_of_what_holds_them() -> None:
    # Doubled in x within the component, tripled in y by the item: 20 × 30 × 10, moved along x by
    # 5 · 1 + 100.
    composed = (
        '<object id="2" type="model"><components>'
        '<component objectid="1" transform="2 0 0 0 1 0 0 0 1 5 0 0"/>'
        '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 45 0 0"/></components></object>'
    )
    item = '<item objectid="2" transform="1 0 0 0 3 0 0 0 1 100 0 0"/>'
    mesh = measured(package(model(CUBE + composed, item)), THREEMF)
    assert str(mesh.volume_mm3) == "9000.000"
    assert tuple(map(str, mesh.box)) == ("50.000", "30.000", "10.000")


def test_an_object_turned_within_another_that_is_stretched_is_not_turned_after() -> None:
    quarter_turn = "0 1 0 -1 0 0 0 0 1 0 0 0"
    slab = mesh_object(1, block(10, 1, 1))
    composed = (
        f'<object id="2" type="model"><components><component objectid="1" '
        f'transform="{quarter_turn}"/></components></object>'
    )
    item = '<item objectid="2" transform="1 0 0 0 7 0 0 0 1 0 0 0"/>'
    mesh = measured(package(model(slab + composed, item)), THREEMF)
    assert tuple(map(str, mesh.box)) == ("1.000", "70.000", "1.000")


def test_a_mirrored_object_has_its_outside_outside() -> None:
    items = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'
    mesh = measured(package(model(CUBE, items)), THREEMF)
    assert str(mesh.volume_mm3) == "1000.000"
    assert mesh.warnings == ()


def test_what_no_build_item_names_is_not_printed() -> None:
    assert volume_of(model(CUBE + mesh_object(2, block(50, 50, 50)), ITEM)) == "1000.000"


def test_supports_of_the_file_are_left_out_and_told() -> None:
    objects = CUBE + mesh_object(2, block(50, 50, 50), "support")
    mesh = measured(package(model(objects, ITEM + '<item objectid="2"/>')), THREEMF)
    assert str(mesh.volume_mm3) == "1000.000"
    assert [warned.word for warned in mesh.warnings] == ["supports_left_out"]


def test_a_build_with_nothing_in_it_is_told() -> None:
    assert "holds nothing to print" in words_of(package(model(CUBE, "")))


def test_an_object_without_a_triangle_is_not_printed() -> None:
    nothing = '<object id="2" type="model"><mesh><vertices/><triangles/></mesh></object>'
    item = '<item objectid="2"/>'
    assert "holds nothing to print" in words_of(package(model(nothing, item)))
    assert volume_of(model(CUBE + nothing, ITEM + item)) == "1000.000"


def test_a_flattening_transform_is_told() -> None:
    item = '<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>'
    assert words_of(package(model(CUBE, item))).startswith("unreadable: ")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK\3\4",
        b"not a package",
        package(model(CUBE, ITEM))[:-40],
        package("no xml"),
        package(model(CUBE, ITEM).replace('v1="', 'v1="9', 1)),
        package(model(CUBE, ITEM).replace('x="', 'x="nan', 1)),
        package(model(CUBE, '<item objectid="7"/>')),
        package(model(CUBE, ITEM).replace("</mesh>", "")),
        b"PK\5\6" + bytes(18),
    ],
    ids=[
        "empty",
        "magic",
        "text",
        "cut",
        "no xml",
        "no vertex",
        "nan",
        "no object",
        "open tag",
        "no file in it",
    ],
)
def test_a_package_that_is_not_sound_is_told(content: bytes) -> None:
    assert words_of(content).startswith("unreadable: ")


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_package_that_is_packed_by_another_method_is_told(method: int) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", method) as made:
        made.writestr("3D/3dmodel.model", "<model/>")
    assert words_of(packed.getvalue()) == (
        "unreadable: the 3MF package is packed by another method than deflate; export it again"
    )


def test_objects_within_themselves_are_told() -> None:
    composed = (
        '<object id="2" type="model"><components><component objectid="2"/></components></object>'
    )
    assert words_of(package(model(CUBE + composed, '<item objectid="2"/>'))).startswith(
        "unreadable: "
    )


def test_entities_that_multiply_are_not_expanded() -> None:
    entities = "".join(
        f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "x" * 10}">' for n in range(12)
    )
    before = f"<!DOCTYPE model [{entities}]>"
    document = model(CUBE, ITEM, before=before).replace('lang="en-US"', 'lang="&e11;"')
    assert words_of(package(document)).startswith("unreadable: ")


def test_components_that_double_each_other_are_stopped() -> None:
    doubling = "".join(
        f'<object id="{n}" type="model"><components><component objectid="{n - 1}"/>'
        f'<component objectid="{n - 1}"/></components></object>'
        for n in range(2, 60)
    )
    content = package(model(CUBE + doubling, '<item objectid="59"/>'))
    assert words_of(content).startswith("too-large: the build holds more than")


def test_components_nested_very_deep_are_stopped() -> None:
    nested = "".join(
        f'<object id="{n}" type="model"><components><component objectid="{n - 1}"/></components>'
        "</object>"
        for n in range(2, 2_000)
    )
    content = package(model(CUBE + nested, '<item objectid="1999"/>'))
    assert "nested more than 100 deep" in words_of(content)


def test_a_package_that_unpacks_to_far_more_is_not_unpacked() -> None:
    content = package(model(CUBE, ITEM), spaces=b" " * 20_000_000)
    assert len(content) < 100_000
    assert words_of(content, Limits(unpacked_bytes=10_000_000)).startswith(
        "too-large: the 3MF package unpacks to 20,00"
    )


def test_many_items_of_one_large_object_are_counted_before_they_are_placed() -> None:
    content = package(model(CUBE, ITEM * 1000))
    assert words_of(content, Limits(triangles=11_999)).startswith(
        "too-large: the file has 12,000 triangles"
    )


def test_single_precision_of_the_reader_is_within_a_part_in_ten_million() -> None:
    sides = np.array([10.1, 20.2, 30.3])
    mesh = measured(package(model(mesh_object(1, block(*sides)), ITEM)), THREEMF)
    assert float(mesh.volume_mm3 or 0) == pytest.approx(float(sides.prod()), rel=2e-7)

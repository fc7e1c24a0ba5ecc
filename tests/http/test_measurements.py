"""POST /v1/measurements: a file in, what it holds out, whatever is in the file."""

import hashlib
from pathlib import Path
from typing import Any

import pytest

from tests.cube import CUBE
from tests.http.door import Door, problem_of

PATH = "/v1/measurements"
BOX = (Path(__file__).parent.parent / "measuring" / "samples" / "box.3mf").read_bytes()


def sent(door: Door, content: bytes, media_type: str, key: str | None = "price") -> Any:
    return door.ask("POST", PATH, key, content=content, headers={"Content-Type": media_type})


def test_a_cube_is_measured(shop: Door) -> None:
    answer = sent(shop, CUBE, "model/stl")
    assert answer.status_code == 200
    assert answer.json() == {
        "media_type": "model/stl",
        "digest": hashlib.sha256(CUBE).hexdigest(),
        "volume_cm3": 8.0,
        "area_cm2": 24.0,
        "box": {"x_mm": 20.0, "y_mm": 20.0, "z_mm": 20.0},
        "triangles": 12,
        "bodies": 1,
        "hollows": 0,
        "watertight": True,
        "mean_wall_mm": 6.667,
        "warnings": [],
    }


def test_a_package_is_measured(shop: Door) -> None:
    assert sent(shop, BOX, "model/3mf").json()["volume_cm3"] == 6.0


@pytest.mark.parametrize(
    "part",
    [
        ("box.3mf", BOX, "model/3mf"),
        ("Box.3MF", BOX, "application/octet-stream"),
        ("box", BOX, "Model/3MF"),
    ],
    ids=["told", "by its name", "in capitals"],
)
def test_a_form_may_carry_the_file(shop: Door, part: tuple[str, bytes, str]) -> None:
    answer = shop.ask("POST", PATH, "price", files={"file": part})
    assert (answer.status_code, answer.json()["volume_cm3"]) == (200, 6.0)


def test_an_open_surface_has_no_volume_and_a_warning(shop: Door) -> None:
    cut = CUBE[:80] + (11).to_bytes(4, "little") + CUBE[84:-50]
    measurement = sent(shop, cut, "model/stl").json()
    assert (measurement["volume_cm3"], measurement["watertight"]) == (None, False)
    assert [each["warning"] for each in measurement["warnings"]] == ["holes"]


@pytest.mark.parametrize(
    ("content", "media_type", "expected"),
    [
        (b"", "model/stl", (422, "cannot-be-measured")),
        (CUBE[:-7], "model/stl", (422, "cannot-be-measured")),
        (CUBE, "model/3mf", (422, "cannot-be-measured")),
        (CUBE, "image/png", (415, "unsupported-media-type")),
        (b"{}", "application/json", (415, "unsupported-media-type")),
        (CUBE, "multipart/form-data", (400, "malformed-document")),
    ],
)
def test_what_cannot_be_measured_is_told(
    shop: Door, content: bytes, media_type: str, expected: tuple[int, str]
) -> None:
    answer = sent(shop, content, media_type)
    assert (answer.status_code, problem_of(answer)[0]) == expected


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        ({"other": ("cube.stl", CUBE, "model/stl")}, (400, "malformed-document")),
        ({"file": ("cube.png", CUBE, "image/png")}, (422, "cannot-be-measured")),
        ({"file": ("cube", CUBE, "application/octet-stream")}, (422, "cannot-be-measured")),
    ],
)
def test_a_form_without_a_file_to_measure_is_told(
    shop: Door, files: Any, expected: tuple[int, str]
) -> None:
    answer = shop.ask("POST", PATH, "price", files=files)
    assert (answer.status_code, problem_of(answer)[0]) == expected


NO_TEXT = {
    "of no charset": (b"\xff", b"text/plain"),
    "of an unknown charset": (b"2", b"text/plain; charset=latin-0"),
    "of bytes": (b"2", b"text/plain; charset=hex"),
}


@pytest.mark.parametrize("part", NO_TEXT.values(), ids=NO_TEXT)
def test_a_form_with_a_part_that_is_no_text_is_told(shop: Door, part: tuple[bytes, bytes]) -> None:
    content = b'--x\r\nContent-Disposition: form-data; name="a"\r\nContent-Type: %s\r\n\r\n%s'
    answer = sent(shop, content % part[::-1] + b"\r\n--x--\r\n", "multipart/form-data; boundary=x")
    assert (answer.status_code, *problem_of(answer)) == (
        400,
        "malformed-document",
        [{"detail": "a part of the form is no text of the charset that it names; send UTF-8"}],
    )


def test_a_file_may_be_larger_than_other_bodies_but_not_too_large(shop: Door) -> None:
    assert sent(shop, bytes(11_000_000), "model/stl").status_code == 422
    answer = sent(shop, bytes(64_000_001), "model/stl")
    assert (answer.status_code, problem_of(answer)[0]) == (413, "body-too-large")


def test_it_needs_a_key(shop: Door) -> None:
    assert sent(shop, CUBE, "model/stl", None).status_code == 401
    assert sent(shop, CUBE, "model/stl", "operate").status_code == 403

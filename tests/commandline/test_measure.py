"""gramhour measure: what a mesh file holds, for a person or as JSON."""

import json
from pathlib import Path

import pytest

from tests.commandline.conftest import Run
from tests.cube import CUBE


@pytest.fixture
def cube(tmp_path: Path) -> Path:
    path = tmp_path / "cube.STL"
    path.write_bytes(CUBE)
    return path


def test_a_person_reads_a_table(run: Run, cube: Path) -> None:
    told = run("measure", str(cube))
    assert told.exit_code == 0
    rows = [" ".join(line.split()) for line in told.stdout.splitlines()]
    assert "volume 8.000 cm³" in rows
    assert "box 20 × 20 × 20 mm" in rows
    assert "watertight yes" in rows


def test_a_program_reads_json(run: Run, cube: Path) -> None:
    told = run("measure", str(cube), "--json")
    assert json.loads(told.stdout)["volume_cm3"] == 8.0


def test_warnings_stand_below_the_table(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "open.stl"
    path.write_bytes(CUBE[:80] + (11).to_bytes(4, "little") + CUBE[84:-50])
    told = run("measure", str(path))
    assert told.exit_code == 0
    assert "volume none" in " ".join(told.stdout.split())
    assert "holes: the surface is open along 3 edges" in told.stdout


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("cut.stl", CUBE[:-1], "it is cut off, or no STL file; export it again"),
        ("cube.obj", CUBE, "its name must end in .stl or .3mf"),
        ("missing.stl", None, "there is no such file"),
    ],
)
def test_what_cannot_be_measured_is_told(
    run: Run, tmp_path: Path, name: str, content: bytes | None, says: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    told = run("measure", str(tmp_path / name))
    assert (told.exit_code, told.stdout) == (1, "")
    assert says in " ".join(told.stderr.split())

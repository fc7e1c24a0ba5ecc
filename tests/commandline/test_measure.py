"""gramhour measure: what a mesh file or a toolpath holds, for a person or as JSON."""

import json
from pathlib import Path

import pytest

from tests import demo
from tests.commandline.conftest import Run
from tests.cube import CUBE
from tests.cube_toolpath import CUBE_GCODE


@pytest.fixture
def cube(tmp_path: Path) -> Path:
    path = tmp_path / "cube.STL"
    path.write_bytes(CUBE)
    return path


def test_a_person_reads_a_table(run: Run, cube: Path) -> None:
    told = run("measure", str(cube))
    assert told.exit_code == 0
    assert told.stdout.startswith(f"{cube}\n"), "a long name is not broken"
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
        ("cube.obj", CUBE, "export it as STL or 3MF"),
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


@pytest.fixture
def toolpath(tmp_path: Path) -> Path:
    path = tmp_path / "cube.gcode"
    path.write_bytes(CUBE_GCODE)
    return path


FOR_LARGE = ("--machine", "large", "--material", "asa-green", "--rates", str(demo.SHEET))


def test_a_toolpath_is_measured_for_a_machine_of_a_sheet(run: Run, toolpath: Path) -> None:
    told = run("measure", str(toolpath), *FOR_LARGE)
    assert told.exit_code == 0
    rows = [" ".join(line.split()) for line in told.stdout.splitlines()]
    assert "tool 0, asa-green 1.07 g, 0.416 m, 1.000 cm³" in rows
    assert "layers 50" in rows
    assert "Not read: M104 (1)." in rows
    assert "Minutes are estimated by the motion of machine 'large'" in told.stdout


def test_a_program_reads_the_same_of_a_toolpath_by_the_store(run: Run, toolpath: Path) -> None:
    by_sheet = json.loads(run("measure", str(toolpath), *FOR_LARGE, "--json").stdout)
    assert run("rates", "import", str(demo.SHEET)).exit_code == 0
    told = run("measure", str(toolpath), *FOR_LARGE[:4], "--json")
    by_store = json.loads(told.stdout)
    assert by_store.pop("rates_revision") == 1
    assert by_store.pop("rates_on")
    assert by_store == by_sheet
    assert by_store["tools"][0]["volume_mm3"] == pytest.approx(1000, abs=0.001)


def test_lines_at_fault_and_options_at_fault_are_told(run: Run, toolpath: Path) -> None:
    none = run("measure", str(toolpath), "--rates", str(demo.SHEET))
    assert (none.exit_code, none.stdout) == (1, "")
    assert "--machine" in none.stderr
    assert "--material" in none.stderr
    toolpath.write_bytes(b"G1 X10 E1\nG1 X\n")
    wrong = run("measure", str(toolpath), *FOR_LARGE)
    assert wrong.exit_code == 1
    assert "line 2  'X' is not a letter followed by a number" in wrong.stderr
    told = json.loads(run("measure", str(toolpath), *FOR_LARGE, "--json").stderr)
    assert (told["type"], told["errors"][0]["line"]) == ("/problems/cannot-be-measured", 2)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--machine", "large"], "need a --profile to estimate by"),
        (["--service", "own-parts"], "and needs a --url"),
    ],
)
def test_options_of_a_mesh_that_say_nothing_alone_are_refused(
    run: Run, cube: Path, options: list[str], says: str
) -> None:
    told = run("measure", str(cube), *options)
    assert told.exit_code == 2
    assert says in told.stderr


def test_a_toolpath_has_no_profile(run: Run, toolpath: Path) -> None:
    told = run("measure", str(toolpath), "--profile", "fine-04")
    assert told.exit_code == 2
    assert "is for meshes" in told.stderr


BY_FINE = ["--profile", "fine-04", "--machine", "small-1", "--nozzle", "n04",
           "--material", "pla-chalk", "--rates", str(demo.SHEET)]  # fmt: skip


def test_a_mesh_is_estimated_by_a_profile(run: Run, cube: Path) -> None:
    told = run("measure", str(cube), *BY_FINE)
    assert told.exit_code == 0, told.stderr
    rows = [" ".join(line.split()) for line in told.stdout.splitlines()]
    assert "estimated, pla-chalk: a piece 4.46 g" in rows
    assert "estimated, pla-chalk: a build 64 pieces on small-1: 285.26 g, 640.8 min" in rows
    assert "estimated by the profile fine-04" in " ".join(told.stdout.split())
    (by_json,) = json.loads(run("measure", str(cube), *BY_FINE, "--json").stdout)["estimates"]
    assert (by_json["layers"], by_json["piece_g"]) == (100, 4.4571)


def test_codes_that_the_sheet_does_not_have_are_told(run: Run, cube: Path) -> None:
    told = run("measure", str(cube), "--profile", "fine-05", "--rates", str(demo.SHEET))
    assert told.exit_code == 1
    assert "--profile  the rates have no profile 'fine-05'; did you mean 'fine-04'?" in (
        " ".join(told.stderr.split(" "))
    )


def test_what_a_toolpath_lacks_is_told_by_the_options_as_they_are_typed(
    run: Run, tmp_path: Path
) -> None:
    path = tmp_path / "cube.gcode"
    path.write_bytes(CUBE_GCODE)
    told = run("measure", str(path), "--rates", str(demo.SHEET))
    assert told.exit_code == 1
    words = " ".join(told.stderr.split())
    assert "--machine say which machine runs the toolpath, such as --machine large" in words
    assert "--material say what is printed: --material asa-green, or by tool" in words

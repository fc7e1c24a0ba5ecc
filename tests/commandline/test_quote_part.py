"""gramhour quote of a mesh, and gramhour services: what a file costs, and what is asked for it."""

import json
from pathlib import Path

import msgspec
import pytest

from gramhour_service.own_parts.offered import Caller
from gramhour_service.own_parts.told import told_services
from tests import demo
from tests.commandline.conftest import Run
from tests.cube import CUBE

RATES = ("--rates", str(demo.SHEET))
CHALK = ("--material", "pla-chalk")
BY_PROFILE = ("--profile", "fine-04", "--machine", "small-1", "--nozzle", "n04")


@pytest.fixture
def cube(tmp_path: Path) -> str:
    path = tmp_path / "cube.stl"
    path.write_bytes(CUBE)
    return str(path)


def test_a_person_reads_what_a_file_costs_and_what_to_ask_for_it(run: Run, cube: str) -> None:
    told = run("quote", cube, *RATES, *CHALK, "--quantity", "12")
    assert told.exit_code == 0, told.stderr
    text = " ".join(told.stdout.split())
    assert text.startswith(
        "cube.stl: 20 × 20 × 20 mm; solid volume 8.00 cm³. Estimated: a piece 4.46 g; a build of "
    )
    assert "cube.stl in PLA, chalk white 12 units | Own web shop | EUR" in text
    assert "Labour" in text, "the work of the service is in it"
    assert "Grams and minutes were estimated, by the profile fine-04" in text


def test_a_file_by_a_profile_costs_what_a_typed_shape_does_but_for_what_is_laid_down(
    run: Run, cube: str, tmp_path: Path
) -> None:
    assert run("rates", "import", str(demo.SHEET)).exit_code == 0
    sold = ("--channel", "own-shop", "--quantity", "12", "--margin", "40", "--json")
    told = json.loads(run("quote", cube, *BY_PROFILE, *CHALK, *sold).stdout)
    assert told["rates_revision"] == 1
    product = {
        "pieces": [
            {
                "machine": "small-1", "nozzle": "n04", "profile": "fine-04",
                "material": "pla-chalk",
                "geometry": {"volume_cm3": 8, "area_cm2": 24,
                             "box": {"x_mm": 20, "y_mm": 20, "z_mm": 20}},
            }
        ]
    }  # fmt: skip
    request = tmp_path / "typed.json"
    asked = {"product": product, "channel": "own-shop", "quantity": 12, "aim": {"margin_pct": 40}}
    request.write_text(json.dumps(asked))
    typed = json.loads(run("quote", str(request), "--json").stdout)
    # Typed geometry overstates a cube: its shell is that of a thin wall, 8 cm³ at most.
    laid = told["at_quantity"]["use"]["feedstock_g"]["pla-chalk"]
    assert laid < typed["at_quantity"]["use"]["feedstock_g"]["pla-chalk"]
    for line in ("labour", "components", "packaging"):
        assert told["at_quantity"]["cost"][line] == typed["at_quantity"]["cost"][line]
    assert float(told["at_quantity"]["margin_pct"]) >= 40


@pytest.mark.parametrize(
    ("options", "place", "says"),
    [
        ((), "--material", "name one of: pla-chalk, petg-clear"),
        (("--service", "own-part"), "--service", "there are: own-parts"),
        (("--margin", "150", *CHALK), "--margin", "must be below 100"),
    ],
    ids=["no material", "no such service", "a margin of all"],
)
def test_what_is_wrong_stands_at_its_option(
    run: Run, cube: str, options: tuple[str, ...], place: str, says: str
) -> None:
    told = run("quote", cube, *RATES, *options)
    assert (told.exit_code, told.stdout) == (1, "")
    assert f"  {place}  " in told.stderr
    assert says in told.stderr


@pytest.mark.parametrize(
    ("file", "options", "says"),
    [
        ("part.stl", BY_PROFILE, "--channel and --material must be named too"),
        ("part.stl", (*BY_PROFILE, "--service", "x"), "--service has its own profile"),
        ("product.toml", ("--quantity", "2"), "--quantity is for a mesh (.stl or .3mf)"),
        ("part.gcode", ("--service", "x"), "a toolpath is measured: gramhour measure part.gcode"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    run: Run, file: str, options: tuple[str, ...], says: str
) -> None:
    told = run("quote", file, *options)
    assert told.exit_code == 2
    assert says in " ".join(told.stderr.split())


def test_services_are_shown_with_their_materials_and_as_the_contract_tells_them(run: Run) -> None:
    of_a_file = run("services", "--rates", str(demo.SHEET)).stdout
    assert run("rates", "import", str(demo.SHEET)).exit_code == 0
    assert run("services").stdout == of_a_file
    rows = [" ".join(line.split()) for line in run("services").stdout.splitlines()]
    assert rows[1:] == [
        "own-parts Your own part, printed fine pla-chalk PLA, chalk white 200 × 200 × 180",
        "petg-clear PETG, water clear",
    ]
    told = json.loads(run("services", "--json").stdout)
    expected = msgspec.to_builtins(told_services(demo.sheet(), Caller()))
    assert told == {"items": expected}

"""Tables fit the terminal: what is too wide for it goes on below; colours only where wanted."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from gramhour_service.commandline import main
from tests import demo
from tests.office.conftest import stocked
from tests.server.running import demo_store

PLANTER = str(demo.FOLDER / "herb-planter.toml")
NOZZLES = str(demo.FOLDER / "shop" / "compare-nozzles.toml")
DEARER = str(demo.FOLDER / "shop" / "dearer-asa.toml")
COMMANDS = {
    "quote": ("quote", PLANTER),
    "compare": ("compare", NOZZLES),
    "reprice": ("reprice", "--all", "--lines", "9"),
    "propose": ("reprice", "--propose", DEARER, "--lines", "9"),
    "prices": ("prices", "own-shop"),
    "rates": ("rates", "show"),
    "history": ("rates", "history"),
    "changes": ("rates", "changes", "1"),
    "keys": ("keys", "list"),
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return stocked(demo_store(tmp_path_factory.mktemp("width") / "gramhour.sqlite"))


def shown(store: Path, command: str, **environment: str) -> str:
    told = {"GRAMHOUR_STORE": str(store), **environment}
    done = CliRunner(env=told).invoke(main, COMMANDS[command])
    assert done.exit_code == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_the_terminal(store: Path, command: str, width: int) -> None:
    lines = shown(store, command, COLUMNS=str(width)).splitlines()
    assert [line for line in lines if len(line) > width] == []


@pytest.mark.parametrize("command", ["quote", "compare", "reprice", "prices"])
def test_a_narrow_terminal_shows_every_number_that_a_wide_one_shows(
    store: Path, command: str
) -> None:
    wide, narrow = (shown(store, command, COLUMNS=width).split() for width in ("200", "40"))
    numbers = set(filter(re.compile(r"-?[0-9]+(\.[0-9]+)?").fullmatch, wide))
    assert len(numbers) > 20
    assert numbers <= set(narrow)


def test_the_columns_that_go_on_below_begin_with_what_they_are_of(store: Path) -> None:
    told = shown(store, "compare", COLUMNS="60").split("1 unit, the best first\n")[1]
    first, second, *_ = told.split("\n\n")
    begins = [line[:23] for line in first.splitlines()[2:6]]
    assert [line[:23] for line in second.splitlines()[2:6]] == begins
    assert "0.8 mm nozzle          " in begins


@pytest.mark.parametrize("command", COMMANDS)
def test_no_colour_reaches_a_file(store: Path, command: str) -> None:
    assert "\x1b" not in shown(store, command)

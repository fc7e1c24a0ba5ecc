"""The demo sheet, through the installed command itself."""

import os
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

from gramhour.contract.documents import parse_json, parse_toml
from gramhour_service.resolve.sheet import sound_sheet
from tests.commandline.conftest import Run

DEMO = files("gramhour_service").joinpath("demo/sheet.toml")


def gramhour(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    command = Path(sys.executable).with_name("gramhour")
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "FORCE_COLOR")}
    return subprocess.run(
        [str(command), *arguments], env=environment, capture_output=True, check=False
    )


def test_the_installed_command_prints_the_sheet_byte_for_byte() -> None:
    printed = gramhour("demo-sheet")
    assert (printed.returncode, printed.stderr) == (0, b"")
    assert printed.stdout == DEMO.read_bytes()


def test_the_same_sheet_as_json_has_the_same_numbers(run: Run) -> None:
    printed = run("demo-sheet", "--json").stdout
    as_json, as_toml = parse_json(printed.encode()), parse_toml(DEMO.read_bytes())
    assert sound_sheet(as_json) == sound_sheet(as_toml)
    assert '\n  "labour_rate_per_hour": ' in printed


def test_the_remedy_for_missing_rates_works(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "my-rates.toml"
    sheet.write_bytes(gramhour("demo-sheet").stdout)
    planter = str(files("gramhour_service").joinpath("demo/herb-planter.toml"))
    quoted = run("quote", planter, "--rates", str(sheet))
    assert (quoted.exit_code, quoted.stderr) == (0, "")


def test_the_installed_command_quotes_into_a_pipe() -> None:
    planter = str(files("gramhour_service").joinpath("demo/herb-planter.toml"))
    quoted = gramhour("quote", planter, "--rates", str(DEMO))
    assert (quoted.returncode, quoted.stderr) == (0, b"")
    assert b"\x1b" not in quoted.stdout
    assert max(map(len, quoted.stdout.decode().split("\n"))) <= 100


def test_help_and_version_are_plain_words(run: Run) -> None:
    assert run("--version").stdout.startswith("gramhour 0.")
    shown = run("--help").stdout
    assert "Say what 3D-printed goods cost to make and what to ask for them." in shown
    assert re.search(
        r"^  demo-sheet +Print a rate sheet to start your own from\.$", shown, re.MULTILINE
    )
    assert "    gramhour demo-sheet > my-rates.toml\n" in run("demo-sheet", "--help").stdout

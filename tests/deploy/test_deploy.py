"""The files of deploy/: systemd takes the unit, the settings are the code's, the list is whole."""

import json
import re
import subprocess
import sys
from pathlib import Path

from gramhour_service.commandline.serve import serve
from gramhour_service.commandline.settings_table import table

DEPLOY = Path(__file__).parent.parent.parent / "deploy"
MOST_COMMANDS = 15
MOST_EXPOSED = 2.0
"""Of 10, as systemd-analyze counts it: under 2 it calls a service well confined."""


def test_systemd_takes_the_unit_without_a_word(tmp_path: Path) -> None:
    unit = tmp_path / "gramhour.service"
    program = str(Path(sys.executable).with_name("gramhour"))
    text = (DEPLOY / "gramhour.service").read_text()
    unit.write_text(text.replace("/opt/gramhour/.venv/bin/gramhour", program))
    done = subprocess.run(
        ["systemd-analyze", "verify", str(unit)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_unit_leaves_the_service_little_to_do_harm_with() -> None:
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", str(DEPLOY / "gramhour.service")],
        capture_output=True,
        text=True,
        check=True,
    )
    found = re.search(r"Overall exposure level for gramhour.service: ([\d.]+)", done.stdout)
    assert found is not None
    assert float(found[1]) < MOST_EXPOSED


def test_every_setting_is_explained_as_the_code_has_it() -> None:
    kept = (DEPLOY / "settings.md").read_text()
    assert kept == table(), (
        "run: python -m gramhour_service.commandline.settings_table > deploy/settings.md"
    )
    for option in serve.params:
        assert option.opts[0] == "--tell-worker" or f"| `{option.opts[0]}`" in kept


def test_from_nothing_to_a_shop_it_takes_few_commands() -> None:
    (block, *_) = re.findall(r"```sh\n(.*?)```", (DEPLOY / "README.md").read_text(), re.DOTALL)
    commands = [line for line in block.splitlines() if line and not line.startswith("#")]
    assert len(commands) <= MOST_COMMANDS
    for file in re.findall(r"deploy/[\w.]+", block):
        assert (DEPLOY.parent / file).exists(), file


def test_all_that_the_lock_file_installs_stands_in_the_lists() -> None:
    locked = set(re.findall(r"^([a-z0-9-]+)==", (DEPLOY / "lock.txt").read_text(), re.MULTILINE))
    bom = json.loads((DEPLOY / "sbom.json").read_text())
    listed = {each["name"].lower().replace("_", "-") for each in bom["components"]}
    licences = (DEPLOY / "licences.md").read_text().lower().replace("_", "-")
    here = {name for name in locked if name not in OF_OTHER_SYSTEMS}
    assert here - listed == set()
    assert [name for name in sorted(here) if f"| {name} " not in licences] == []


OF_OTHER_SYSTEMS = {"colorama", "pip", "setuptools", "tzdata"}
"""Locked for other systems, or what installs the others."""


def test_every_test_that_the_page_of_risks_names_is_there() -> None:
    table = (DEPLOY / "owasp.md").read_text().partition("| API1 ")[2]
    named = re.findall(r"`([a-z_0-9/]+\.py|[a-z_/]+/)`", table)
    tests = DEPLOY.parent / "tests"
    assert len(named) > 30
    assert [name for name in named if not (tests / name).exists()] == []


def test_packages_that_are_being_installed_are_waited_for_when_all_else_fails(
    tmp_path: Path,
) -> None:
    """Stubs stand for what is installed; the script is the one that is run."""
    for folder in ("tests", "deploy"):
        (tmp_path / folder).mkdir()
    run = tmp_path / "tests" / "run"
    run.write_text((DEPLOY.parent / "tests" / "run").read_text())
    (tmp_path / "deploy" / "environment").write_text(STUBS)
    done = subprocess.run(
        ["bash", str(run)], stderr=subprocess.PIPE, text=True, check=False, timeout=60
    )
    assert (done.returncode, (tmp_path / "installed").exists()) == (3, True)
    assert done.stderr == "Waiting until the packages of the system are installed\n"


STUBS = """\
say() { echo "$*" >&2; }
python_with_venv() { :; }
needs() { :; }
install_lacking() {
    exec 2>&-
    for n in {1..500}; do [ ! -e waited ] || break; sleep 0.01; done
    mv waited installed
}
wait() { touch waited; builtin wait "$@"; }
environment() { return 3; }
"""

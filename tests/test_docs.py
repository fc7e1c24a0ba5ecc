"""The documents tell the truth: the members' table is the code's, README's commands run."""

import importlib
import os
import re
import shutil
import subprocess
from pathlib import Path

from gramhour.contract.table import table
from gramhour_service.calculation.rules import RULES

ROOT = Path(__file__).parent.parent


def test_the_table_of_members_is_the_contracts() -> None:
    kept = (ROOT / "openapi" / "members.md").read_text()
    assert kept == table(), "run: python -m gramhour.contract.table > openapi/members.md"


def test_the_way_to_each_rule_that_developers_md_shows_exists() -> None:
    importlib.import_module("gramhour_service.answer.quoting")  # brings every rule along
    guide = (ROOT / "DEVELOPERS.md").read_text()
    calculation = ROOT / "service" / "gramhour_service" / "calculation"
    shown = re.findall(r"`calculation/(\w+\.py)`: `(\w+)`", guide)
    assert len(shown) >= 10
    for file, rule in shown:
        assert rule in RULES, rule
        assert f"def {rule}(" in (calculation / file).read_text()


def test_the_commands_of_the_readme_run_as_they_stand(tmp_path: Path) -> None:
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    for name in listed.stdout.splitlines():
        target = tmp_path / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, target)
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    commands = [line for block in blocks for line in block.splitlines() if line]
    assert commands[0] == "deploy/start"
    assert "tests/run" in commands
    environment = {k: v for k, v in os.environ.items() if k not in ("VIRTUAL_ENV", "PYTHONPATH")}
    outputs = {
        command: subprocess.run(
            ["bash", "-c", command],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for command in commands
        if command != "tests/run"  # that is what runs this
    }
    assert "26.90 a unit" in outputs["deploy/start"]
    assert "feedstock_consumed" in next(o for c, o in outputs.items() if "--explain" in c)
    assert '"unit_price"' in (tmp_path / "my-quote.json").read_text()

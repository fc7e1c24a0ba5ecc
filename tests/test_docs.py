"""The documents tell the truth: the members' table is the code's, README's commands run."""

import os
import re
import shutil
import subprocess
from decimal import Decimal
from pathlib import Path

from gramhour.contract.documents import parse_toml
from gramhour.contract.table import table
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.calculation.rules import RULES
from gramhour_service.resolve.sheet import sound_sheet

ROOT = Path(__file__).parent.parent


def test_the_table_of_members_is_the_contracts() -> None:
    kept = (ROOT / "openapi" / "members.md").read_text()
    assert kept == table(), "run: python -m gramhour.contract.table > openapi/members.md"


def test_the_way_to_each_rule_that_developers_md_shows_exists() -> None:
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
    told = (tmp_path / "my-quote.json").read_text()
    assert '"unit_price"' in told
    assert '"expression"' in told


def test_the_smallest_product_and_sheet_of_the_readme_are_quoted() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    product, sheet = (parse_toml(block.encode()) for block in blocks)
    answer = answer_quote(product, sound_sheet(sheet))
    # 10 · 42.5 g · 21.50/kg, 10 · 95 min · 0.35/h, 10 · 120 W · 95 min · 0.30/kWh
    assert answer.at_quantity.cost.total == Decimal("9.1375") + Decimal("5.5417") + Decimal("0.57")
    assert [each.quantity for each in answer.breaks] == [1, 10, 100]

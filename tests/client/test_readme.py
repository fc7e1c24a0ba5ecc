"""What the documents show runs: the README against a started service, examples of docstrings."""

import doctest
import importlib
import io
import pkgutil
import re
from collections.abc import Iterator
from contextlib import redirect_stdout
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

import gramhour
from gramhour import Client, Refusal
from tests import demo
from tests.client.demand import NOZZLES, PLANTER, TIMED
from tests.client.listed import listed
from tests.client.running import KEY, ROOT, a_store, running
from tests.cube import CUBE
from tests.cube_toolpath import CUBE_GCODE

README = (ROOT / "client" / "README.md").read_text()
MODULES = sorted(
    name
    for _, name, _ in pkgutil.iter_modules(gramhour.__path__, "gramhour.")
    if name != "gramhour.contract"
)


OF_LISTINGS = (
    "gramhour.listing_calls",
    "gramhour.repricing_calls",
    "gramhour.seal_calls",
    "gramhour.seals",
)


def blocks(language: str) -> list[str]:
    found = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
    return [block for named, block in found if named == language]


def test_the_python_of_the_readme_runs_from_top_to_bottom_against_a_started_service(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my-rates.toml").write_bytes(demo.SHEET.read_bytes())
    printed = io.StringIO()
    with running(a_store(tmp_path / "store"), tmp_path / "asked") as service:
        code = "\n".join(blocks("python"))
        code = code.replace("http://127.0.0.1:8750", service.url).replace("YOUR-KEY", KEY)
        with redirect_stdout(printed):
            exec(compile(code, "README.md", "exec"), {})
    lines = printed.getvalue().splitlines()
    assert re.fullmatch(r"\d+\.\d\d EUR", lines[0])
    assert [line.split()[0] for line in lines[1:4]] == ["1", "10", "50"]
    assert lines[4] == lines[5], "in this process, and asynchronously from the service"
    assert lines[6].startswith("row 0 must be from 1")
    assert re.fullmatch(r"row 2 \d+\.\d\d", lines[8])
    (shown,) = (block for block in blocks("") if block.startswith("invalid-request"))
    assert lines[9] == "[('32.00', '33.50')]"
    assert [line.split()[0] for line in lines[10:14]] == ["4", "3", "2", "1"]
    assert lines[12] == "2 2999-12-07 wage agreement"
    assert lines[14:16] == ["1 40.90 41.90 41.70", "10 18.90 18.90 38.20"]
    assert lines[16:18] == ["2 from 2999-12-07", "41.90"]
    assert lines[18:21] == ["HP-1 for 18.90 EUR", "not_genuine", "valid"]
    assert lines[21:] == shown.splitlines()


def test_the_readme_names_every_call_and_the_tree_of_errors() -> None:
    calls = {name for name in dir(Client) if not name.startswith("_")} - {"close"}
    shown_in_code = {name for name in calls if re.search(rf"[`.]{name}\(", README)}
    assert shown_in_code == calls
    tree = gramhour.errors.__doc__ or ""
    (shown,) = (block for block in blocks("") if block.startswith("GramhourError"))
    assert all(line.strip() in tree for line in shown.splitlines())


@pytest.fixture
def names(module: str) -> Iterator[dict[str, object]]:
    with Client.local(rates=demo.SHEET) as client:
        if module in OF_LISTINGS:
            listed(client)
        yield {
            "client": client,
            "planter": PLANTER,
            "nozzles": NOZZLES,
            "timed_builds": TIMED,
            "cube_stl": CUBE,
            "cube_gcode": CUBE_GCODE,
            "Client": Client,
            "Refusal": Refusal,
            "Decimal": Decimal,
            "date": date,
            "now": datetime.now(UTC),
        }


@pytest.mark.parametrize("module", MODULES)
def test_the_examples_of_docstrings_run(
    module: str, names: dict[str, object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "sheet.toml").write_bytes(demo.SHEET.read_bytes())
    monkeypatch.chdir(tmp_path)
    loaded = importlib.import_module(module)
    found = doctest.DocTestFinder(exclude_empty=True).find(loaded, extraglobs=names)
    told = io.StringIO()
    runner = doctest.DocTestRunner(verbose=False)
    for each in found:
        runner.run(each, out=told.write)
    assert told.getvalue() == ""


def test_every_call_of_the_client_has_an_example() -> None:
    calls = [getattr(Client, name) for name in dir(Client) if not name.startswith("_")]
    without = [each.__name__ for each in calls if ">>>" not in (each.__doc__ or "")]
    assert without == ["close"]

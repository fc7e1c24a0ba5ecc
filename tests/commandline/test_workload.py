"""gramhour workload: what machines are promised for, shown and put."""

import json
from pathlib import Path

import pytest

from tests import demo
from tests.commandline.conftest import Run


@pytest.fixture
def store(run: Run, tmp_path: Path) -> list[str]:
    """A store with the demo's rates, and the options that name it."""
    named = ["--store", str(tmp_path / "gramhour.sqlite")]
    assert run("rates", "import", str(demo.SHEET), *named).exit_code == 0
    return named


def test_a_workload_is_empty_then_put_then_freed(run: Run, store: list[str]) -> None:
    assert "No machine is promised" in run("workload", *store).stdout
    put = run("workload", "large=4.5", "small-1=12", *store)
    assert put.exit_code == 0, put.stderr
    shown = " ".join(run("workload", *store).stdout.split())
    assert "large 4.5" in shown
    assert "small-1 12" in shown
    told = json.loads(run("workload", "--json", *store).stdout)
    assert (told["version"], set(told["machines"])) == (1, {"large", "small-1"})
    assert "No machine is promised" in run("workload", "--free", *store).stdout


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        (["large"], 2, "is no MACHINE=HOURS"),
        (["large=1", "large=2"], 2, "stands twice"),
        (["large=1", "--free"], 2, "leaves no machine promised"),
        (["larg=1"], 1, "unknown code 'larg'"),
        (["large=1,2"], 1, "has 2 entries"),
    ],
)
def test_what_is_no_workload_is_told(
    run: Run, store: list[str], arguments: list[str], status: int, says: str
) -> None:
    told = run("workload", *arguments, *store)
    assert (told.exit_code, told.stdout) == (status, "")
    assert says in " ".join(told.stderr.split())

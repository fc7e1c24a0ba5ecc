"""The quote command says when the order is ready, or why that cannot be said."""

import re
from pathlib import Path

import pytest

from tests import demo
from tests.commandline.conftest import Run

PLANTER = (demo.FOLDER / "herb-planter.toml").read_text()
FROM = "from = 2026-12-01T09:00:00+01:00\n"
QUEUE = "[workload.machines.small-2]\nqueue_h = [20]\n"
SHEET = demo.SHEET.read_text()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sheet.toml").write_text(SHEET)
    return tmp_path


def told(run: Run, request: str) -> str:
    """Ask for a quote, and give what stands under the heading, in one line."""
    result = run("quote", "-", "--rates", "sheet.toml", read=request)
    assert result.exit_code == 0, result.stderr
    found = re.search(r"^Ready\n(.*?)\n\n", result.stdout, re.DOTALL | re.MULTILINE)
    return " ".join(found[1].split()) if found else ""


@pytest.mark.usefixtures("folder")
def test_the_day_is_told_with_what_it_rests_on_and_what_each_machine_does(run: Run) -> None:
    # Reservoirs, 201 minutes with somebody there: two a day, one on a Friday, the fifteenth on the
    # second Thursday from 13:00 to 16:21; then its two units' work, and a day for the carrier.
    shown = told(run, FROM + PLANTER)
    assert shown.startswith(
        "Friday, 2026-12-11: ordered Tue 2026-12-01 09:00, with machines that are free, and ready "
        "in the shop Thu 2026-12-10 16:27; the starts are enough with a chance of 93.72 %. "
        "This date relies on builds that run with nobody present."
    )
    assert "Small printer, right Tue 2026-12-01 09:00 15 builds Tue 2026-12-01 09:00" in shown


@pytest.mark.usefixtures("folder")
def test_a_queue_comes_first(run: Run) -> None:
    shown = told(run, FROM + PLANTER + QUEUE)
    assert "beside what machines are promised for" in shown
    assert not shown.startswith("Friday, 2026-12-11")


@pytest.mark.usefixtures("folder")
def test_why_no_day_can_be_named_is_told(run: Run) -> None:
    shown = told(run, FROM + PLANTER.replace("quantity = 25", "quantity = 100000"))
    assert shown.startswith("No day can be named: it takes more than 2000 starts of builds")


def test_where_nobody_says_when_they_are_there_nothing_is_told(run: Run, folder: Path) -> None:
    without = re.sub(r"\[staffed_hours\].*?\n\n", "", SHEET, count=1, flags=re.DOTALL)
    (folder / "sheet.toml").write_text(without)
    assert told(run, FROM + PLANTER) == ""

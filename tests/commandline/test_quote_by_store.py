"""Quotes by the stored rates: today's, or those of a day and a revision that a request names."""

import json
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest

from gramhour_service.answer.quoting import answer_quote
from tests import demo
from tests.commandline.conftest import RATES, REQUEST, Run

FAR = "2099-01-01"
DEARER = RATES.replace("labour_rate_per_hour = 30.00", "labour_rate_per_hour = 33.00")
CHEAPER = RATES.replace("labour_rate_per_hour = 30.00", "labour_rate_per_hour = 27.00")
UNPINNED = REQUEST.replace("rates_on = 2026-12-01\n", "")
pytestmark = pytest.mark.usefixtures("shop")


def take_in(run: Run, shop: Path, sheet: str, *options: str) -> None:
    (shop / "new.toml").write_text(sheet)
    assert run("rates", "import", "new.toml", *options).exit_code == 0


def told_of(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


def quoted(run: Run, shop: Path, request: str) -> dict[str, Any]:
    (shop / "asked.toml").write_text(request)
    answer: dict[str, Any] = json.loads(told_of(run, "quote", "asked.toml", "--json"))
    return answer


def test_a_quote_is_by_the_stored_rates_of_its_day_or_of_the_day_and_revision_it_names(
    run: Run, shop: Path
) -> None:
    take_in(run, shop, RATES)
    take_in(run, shop, DEARER, "--from", FAR)
    take_in(run, shop, CHEAPER)
    # Ten units: 20 minutes at 27.00, 33.00 and 30.00 an hour; all else is 50.60.
    for pins, revision, cost in (
        ("", 3, "5.9600"),
        (f"rates_on = {FAR}\n", 3, "6.1600"),
        ("rates_revision = 1\n", 1, "6.0600"),
        (f"rates_revision = 1\nrates_on = {FAR}\n", 1, "6.0600"),
    ):
        answer = quoted(run, shop, pins + UNPINNED)
        assert (answer["rates_revision"], answer["at_quantity"]["unit_cost"]) == (revision, cost)


def test_a_quote_by_stored_rates_is_that_of_the_sheet_itself(run: Run, shop: Path) -> None:
    take_in(run, shop, demo.SHEET.read_text())
    for path in demo.REQUESTS:
        sent = {**demo.request(path.stem), "rates_on": FAR, "from": "2026-12-01T09:00:00+01:00"}
        pins = f"rates_on = {FAR}\nfrom = {sent['from']}\n"
        answer = quoted(run, shop, pins + path.read_text())
        expected = msgspec.json.encode(answer_quote(sent, demo.sheet(), revision=1))
        assert answer == json.loads(expected)


@pytest.mark.parametrize(
    ("pins", "pointer", "says"),
    [
        ("rates_revision = 9\n", "/rates_revision", "the newest is 1"),
        ("rates_on = 2019-01-01\n", "/rates_on", "no rates are in force on that day"),
    ],
)
def test_a_quote_by_rates_that_are_not_there_is_refused(
    run: Run, shop: Path, pins: str, pointer: str, says: str
) -> None:
    take_in(run, shop, RATES)
    (shop / "asked.toml").write_text(pins + UNPINNED.replace("quantity = 10", "quantity = 0"))
    told = refused(run, "quote", "asked.toml")
    assert re.search(rf"^asked\.toml  {pointer} .*{says}", told, re.MULTILINE)
    assert "  /quantity " in told
    problem = json.loads(refused(run, "quote", "asked.toml", "--json"))
    assert {fault["pointer"] for fault in problem["errors"]} == {pointer, "/quantity"}

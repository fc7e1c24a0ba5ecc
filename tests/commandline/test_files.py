"""Requests and sheets in all the ways in which files and shells hand them over."""

import codecs
import json
from pathlib import Path

import pytest

from gramhour.contract.documents import parse_toml
from tests.commandline.conftest import RATES, REQUEST, Run

pytestmark = pytest.mark.usefixtures("shop")


def as_json(toml: str) -> str:
    return json.dumps(parse_toml(toml.encode()), default=str)


@pytest.fixture
def expected(run: Run) -> str:
    return run("quote", "stake.toml", "--rates", "rates.toml").stdout


def test_a_request_is_read_from_standard_input_as_toml(run: Run, expected: str) -> None:
    assert run("quote", "-", "--rates", "rates.toml", read=REQUEST).stdout == expected


def test_a_request_is_read_from_standard_input_as_json(run: Run, expected: str) -> None:
    shown = run("quote", "-", "--rates", "rates.toml", read=f"\n {as_json(REQUEST)}").stdout
    assert shown == expected


def test_a_sheet_is_read_from_standard_input(run: Run, expected: str) -> None:
    assert run("quote", "stake.toml", "--rates", "-", read=RATES).stdout == expected


def test_files_are_json_by_their_ending(run: Run, shop: Path, expected: str) -> None:
    (shop / "stake.JSON").write_text(as_json(REQUEST))
    (shop / "rates.json").write_text(as_json(RATES))
    assert run("quote", "stake.JSON", "--rates", "rates.json").stdout == expected


def test_a_request_may_bring_its_own_rates(run: Run, expected: str) -> None:
    own = {**json.loads(as_json(REQUEST)), "rates": json.loads(as_json(RATES))}
    assert run("quote", "-", read=json.dumps(own)).stdout == expected


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(codecs.BOM_UTF8 + RATES.encode(), id="UTF-8 with a mark"),
        pytest.param(codecs.BOM_UTF16_LE + RATES.encode("utf-16-le"), id="UTF-16, little end"),
        pytest.param(codecs.BOM_UTF16_BE + RATES.encode("utf-16-be"), id="UTF-16, big end"),
    ],
)
def test_a_sheet_may_begin_with_the_mark_of_an_editor_or_a_shell(
    run: Run, shop: Path, expected: str, body: bytes
) -> None:
    (shop / "rates.toml").write_bytes(body)
    assert run("quote", "stake.toml", "--rates", "rates.toml").stdout == expected

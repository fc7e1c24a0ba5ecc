"""What is refused, in words with a place and a remedy, on standard error and with exit code 1."""

import json
from pathlib import Path

import pytest

from tests.commandline.conftest import RATES, REQUEST, Run

QUOTE = ("quote", "stake.toml", "--rates", "rates.toml")
pytestmark = pytest.mark.usefixtures("shop")


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


def test_every_fault_of_a_request_has_a_line_with_file_and_pointer(run: Run, shop: Path) -> None:
    faulty = REQUEST.replace("quantity = 10", "quantity = 0").replace('"printer"', '"printr"')
    (shop / "stake.toml").write_text(faulty)
    assert (
        refused(run, *QUOTE)
        == """\
The request has faults:
stake.toml  /quantity                  must be from 1 to 100000, not 0
stake.toml  /product/pieces/0/machine  unknown code 'printr': the sheet has none such in machines; \
did you mean 'printer'?
"""
    )


def test_a_fault_of_the_sheet_names_the_sheet(run: Run, shop: Path) -> None:
    (shop / "rates.toml").write_text(RATES.replace('"EUR"', '"EUX"'))
    assert (
        refused(run, *QUOTE)
        == """\
The rate sheet has faults:
rates.toml  /currency  'EUX' is not a currency code of ISO 4217, such as EUR
"""
    )


@pytest.mark.parametrize("said", ["€", "eur"])
def test_a_currency_is_said_by_its_code(run: Run, shop: Path, said: str) -> None:
    (shop / "rates.toml").write_text(RATES.replace('"EUR"', f'"{said}"'))
    assert refused(run, *QUOTE).endswith(
        "rates.toml  /currency  must be an ISO 4217 code of three capital letters, such as EUR or "
        f"USD, not '{said}'\n"
    )


def test_a_day_that_is_written_day_first_is_told_how_to_be_written(run: Run, shop: Path) -> None:
    (shop / "stake.toml").write_text(REQUEST.replace("2026-12-01", "01.12.2026"))
    assert refused(run, *QUOTE).endswith(
        "; if 01.12.2026 is a day, write it year first, such as 2099-01-05\n"
    )


def test_an_unknown_code_that_resembles_none_is_told_with_those_there_are(
    run: Run, shop: Path
) -> None:
    (shop / "stake.toml").write_text(REQUEST.replace('"pla"', '"asa-x"'))
    assert refused(run, *QUOTE).endswith(
        "unknown code 'asa-x': the sheet has none such in materials; there are: pla\n"
    )


def test_a_fault_of_own_rates_names_the_request(run: Run, shop: Path) -> None:
    own = RATES.replace('"EUR"', '"EUX"').replace("[", "[rates.")
    own = own.replace("offers = [rates.", "offers = [")
    (shop / "stake.toml").write_text(f"{REQUEST}\n[rates]\n{own}")
    assert "\nstake.toml  /rates/currency  'EUX' is not a" in refused(run, "quote", "stake.toml")


def test_without_rates_all_remedies_are_named_and_the_demo_is_not_used(run: Run) -> None:
    assert (
        refused(run, "quote", "stake.toml", "--store", "nowhere.sqlite")
        == """\
There are no rates to price with:
stake.toml  /rates  there is no store at nowhere.sqlite; name a rate sheet with --rates SHEET, \
put one into the request as 'rates', or store one: gramhour rates import SHEET. To begin a sheet: \
gramhour demo-sheet > my-rates.toml, with your own prices in it
"""
    )


def test_two_sheets_are_refused_for_nobody_knows_which_one_counts(run: Run, shop: Path) -> None:
    (shop / "stake.toml").write_text(f"{REQUEST}\n[rates]\ncurrency = 'EUR'\n")
    assert (
        refused(run, *QUOTE)
        == """\
There are two rate sheets to price with:
stake.toml  /rates  here is a rate sheet, and rates.toml is another: say which one counts; \
take 'rates' out of the request, or leave --rates away
"""
    )


def test_all_files_that_cannot_be_read_are_named_with_a_remedy(run: Run, shop: Path) -> None:
    (shop / "folder.toml").mkdir()
    assert (
        refused(run, "quote", "steak.toml", "--rates", "folder.toml")
        == """\
A file cannot be read:
steak.toml   there is no such file; check its name and the folder you are in
folder.toml  this is a folder; name a file in it
"""
    )


def test_a_broken_document_says_where_it_breaks_off(run: Run, shop: Path) -> None:
    (shop / "rates.toml").write_text("currency = EUR\n")
    said = refused(run, *QUOTE)
    assert said.startswith("A file is not sound TOML or JSON:\nrates.toml  not TOML: ")
    assert "(at line 1, column 12)" in said


def test_an_aim_that_no_price_reaches_is_refused(run: Run, shop: Path) -> None:
    (shop / "stake.toml").write_text(REQUEST.replace('unit_price = "10.00"', "margin_pct = 99.5"))
    said = refused(run, *QUOTE)
    assert said.startswith("There is no price for this:\nstake.toml  /aim  no price reaches")


def test_a_refusal_as_json_is_a_problem_with_the_file_of_each_fault(run: Run, shop: Path) -> None:
    (shop / "stake.toml").write_text(REQUEST.replace("quantity = 10", "quantity = 0"))
    assert json.loads(refused(run, *QUOTE, "--json")) == {
        "type": "/problems/invalid-request",
        "title": "The request has faults",
        "errors": [
            {
                "file": "stake.toml",
                "pointer": "/quantity",
                "detail": "must be from 1 to 100000, not 0",
            }
        ],
    }


def test_half_characters_in_a_member_name_do_not_break_the_refusal(run: Run) -> None:
    result = run("quote", "-", "--rates", "rates.toml", "--json", read=r'{"\ud800": 1}')
    assert result.exit_code == 1
    assert json.loads(result.stderr)["errors"][0]["pointer"] == r"/\ud800"


@pytest.mark.parametrize(
    "arguments",
    [
        pytest.param(("quote",), id="no file"),
        pytest.param(("quote", "stake.toml", "--rate", "--nothing"), id="unknown option"),
        pytest.param(("quote", "-", "--rates", "-"), id="standard input twice"),
    ],
)
def test_a_command_that_is_not_understood_exits_with_2(
    run: Run, arguments: tuple[str, ...]
) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Usage: ")

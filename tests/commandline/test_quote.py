"""The quote as a table, and as the contract's JSON."""

import re
from datetime import datetime
from pathlib import Path

import msgspec
import pytest

from gramhour.contract.answer import Quote
from gramhour.contract.documents import parse_toml
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet
from tests.commandline.conftest import RATES, REQUEST, Run

QUOTE = ("quote", "stake.toml", "--rates", "rates.toml")
pytestmark = pytest.mark.usefixtures("shop")


def test_the_whole_table_reads_as_worked_out_by_hand(run: Run) -> None:
    result = run(*QUOTE)
    assert (result.exit_code, result.stderr) == (0, "")
    assert (
        result.stdout
        == """\
Plant stake
10 units | Market stall | EUR, 20 % tax on top | rules version 1

10.00 a unit before tax: the buyer pays 120.00 for 10 units, tax included.
A unit costs 6.0600. The order's profit is 39.4000: margin 39.40 % of the net, markup 65.02 % of the
cost.
Holds until 2026-12-15. Rates of 2026-12-01.

Cost of 10 units, EUR
              The order  One unit  Share, %
Feedstock       15.0000    1.5000      24.8
Components       5.0000    0.5000       8.3
Machine time    30.0000    3.0000      49.5
Energy           0.6000    0.0600       1.0
Labour          10.0000    1.0000      16.5
Together        60.6000    6.0600     100.0
No cost: nozzle wear, scrap (failed builds), rejects (made again), packaging, design, material
overhead, production overhead, administration.

By quantity, EUR
Units                   1        10*
One unit
  Price without tax    10.00     10.00
  Price net of tax     10.0000   10.0000
  Cost                  8.0600    6.0600
The buyer pays
  Goods                10.00    100.00
  Postage               0.00      0.00
  Tax, added            2.00     20.00
  Total to pay         12.00    120.00
The shop keeps
  Net of tax           10.00    100.00
  Cost of the order     8.0600   60.6000
  Fees together         0.00      0.00
  Profit                1.9400   39.4000
  Margin, % of net     19.40     39.40
  Markup, % of cost    24.07     65.02
Contribution an hour
  of machine time       2.4700    3.4700
  of labour           178.2000  238.2000
Machine hours           2.00     20.00
Look at                 a         -
* asked for. Zero at each of these: channel fee, payment fee, fixed fees, postage paid, designer's
share.

Look at
a  The margin is below the channel's floor of 25 %. At 1.

The order takes, failed builds and remade units included
500.0 g PLA, moss
20.00 h printer
10 good builds (10.00 starts expected); 20.0 min of people's work; 2.00 kWh

To buy for 10 units, EUR
Part or feedstock  Packs  Pack of  Price  Shipping  Left over
Name tag               2        5   5.00      0.00          0

Cautions
Food contact: Printed layers hold germs, and filament or nozzle may not be fit for food. Ask for the
  material's food-contact declaration and follow the local food-contact law.

Not given, so taken by default: 40 members of the request and the rates. Defaults are the optimistic
values. See them with --explain.
The tax arithmetic is shown; whether a rate applies is for you or a tax adviser to decide.
"""
    )


def test_a_file_gets_plain_lines_of_100_columns_without_blanks_at_their_ends(run: Run) -> None:
    lines = run(*QUOTE, "--explain").stdout.split("\n")
    assert [line for line in lines if len(line) > 100 or line.endswith(" ") or "\x1b" in line] == []


def test_a_narrow_screen_gets_narrow_lines(run: Run) -> None:
    lines = run(*QUOTE, COLUMNS="64").stdout.split("\n")
    assert [line for line in lines if len(line) > 64] == []
    assert "Not given, so taken by default: 40 members of the request and" in lines


def test_a_terminal_gets_bold_and_dim_but_no_colour(run: Run) -> None:
    shown = run(*QUOTE, FORCE_COLOR="1", TERM="xterm-256color").stdout
    assert "\x1b[1mPlant stake\x1b[0m\n" in shown
    assert set(re.findall(r"\x1b\[([0-9;]*)m", shown)) == {"0", "1", "2"}


def test_more_quantities_than_the_screen_holds_go_on_in_a_second_table(run: Run) -> None:
    breaks = REQUEST.replace("[1, 10]", "[1, 2, 3, 4, 5]")
    lines = run("quote", "-", "--rates", "rates.toml", read=breaks, COLUMNS="60").stdout.split("\n")
    assert [line.split() for line in lines if line.startswith("Units")] == [
        ["Units", "1", "2", "3"],
        ["Units", "4", "5", "10*"],
    ]


def test_the_asked_quantity_stands_among_the_breaks_though_it_is_none_of_them(run: Run) -> None:
    breaks = REQUEST.replace("[1, 10]", "[4, 20]")
    shown = run("quote", "-", "--rates", "rates.toml", read=breaks).stdout
    assert re.search(r"^Units +4 +10\* +20$", shown, re.MULTILINE)


def test_prices_with_tax_inside_say_so(run: Run, shop: Path) -> None:
    inside = RATES.replace("prices_include_tax = false", "prices_include_tax = true")
    (shop / "rates.toml").write_text(inside)
    shown = run(*QUOTE).stdout
    assert "EUR, 20 % tax inside |" in shown
    assert "\n10.00 a unit: the buyer pays 100.00 for 10 units," in shown
    assert re.search(r"^  Price with tax +10\.00 +10\.00$", shown, re.MULTILINE)
    assert re.search(r"^  Tax, included +1\.67 +16\.67$", shown, re.MULTILINE)


def test_packs_of_several_sizes_name_the_part_once_and_what_is_left_over_last(
    run: Run, shop: Path
) -> None:
    offers = "{ pack_quantity = 8, price = 3.20 }, { pack_quantity = 1, price = 0.60 }"
    sheet = RATES.replace("{ pack_quantity = 5, price = 2.50 }", offers)
    sheet = sheet.replace('name = "Name tag"', 'name = "Name tag"\nshipping_per_purchase = 1.50')
    (shop / "rates.toml").write_text(sheet)
    assert (
        """
To buy for 10 units, EUR
Part or feedstock  Packs  Pack of  Price  Shipping  Left over
Name tag               1        8   3.20      1.50
                       2        1   1.20                    0
"""
        in run(*QUOTE).stdout
    )


def test_nothing_to_buy_is_said(run: Run, shop: Path) -> None:
    (shop / "rates.toml").write_text(RATES.replace('charging = "order"\n', ""))
    assert "\nNothing has to be bought just for 10 units.\n" in run(*QUOTE).stdout


def test_a_loss_is_said_in_words(run: Run) -> None:
    cheap = REQUEST.replace('"10.00"', '"4.00"')
    shown = run("quote", "-", "--rates", "rates.toml", read=cheap).stdout
    assert "\nb  Sold at a loss: cost and fees are more than the net. At 1, 10.\n" in shown
    assert "The order makes a loss of 20.6000: margin -51.50 % of the net (under the" in shown


def test_names_from_a_file_cannot_steer_the_terminal(run: Run) -> None:
    steering = REQUEST.replace('"Plant stake"', r'"Plant\u001b[31m\nstake \u202e"')
    shown = run("quote", "-", "--rates", "rates.toml", read=steering).stdout
    assert shown.startswith("Plant\ufffd[31m\ufffdstake \ufffd\n")


def test_signs_that_the_screen_does_not_have_do_not_cost_the_answer(run: Run, shop: Path) -> None:
    (shop / "stake.toml").write_text(REQUEST.replace("Plant stake", "Blumenschild für draußen"))
    result = run(*QUOTE, "--explain", PYTHONIOENCODING="ascii")
    assert result.exit_code == 0


def test_json_is_the_answer_itself(run: Run) -> None:
    result = run(*QUOTE, "--json")
    sheet = sound_sheet(parse_toml(RATES.encode()))
    told = msgspec.json.decode(result.stdout, type=Quote)
    assert told == answer_quote(parse_toml(REQUEST.encode()), sheet, on=told.rates_on)
    assert isinstance(told.valid_until, datetime)
    assert '\n    "unit_price": "10.00",\n' in result.stdout


def test_json_with_explain_explains_each_break(run: Run) -> None:
    answer = msgspec.json.decode(run(*QUOTE, "--json", "--explain").stdout, type=Quote)
    sheet = sound_sheet(parse_toml(RATES.encode()))
    expected = answer_quote(parse_toml(REQUEST.encode()), sheet, on=answer.rates_on, explain=True)
    assert answer == expected


def test_a_workbook_is_written_beside_the_table(run: Run) -> None:
    result = run(*QUOTE, "--workbook", "stake.ods")
    assert result.exit_code == 0
    assert result.stderr == (
        "stake.ods is written. Open it in an office that reads OpenDocument (.ods), such as "
        "LibreOffice Calc, and change a yellow cell on Rates or Description: the quote computes "
        "anew. It shows all costs.\n"
    )
    assert result.stdout == run(*QUOTE).stdout
    assert Path("stake.ods").read_bytes()[30:38] == b"mimetype"


def test_a_workbook_that_cannot_be_written_is_refused_in_words(run: Run) -> None:
    result = run(*QUOTE, "--workbook", "no-folder/stake.ods")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "no-folder/stake.ods" in result.stderr
    assert "there is no such folder; make it, or name another" in result.stderr.replace("\n", " ")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (
            ("--rates", "rates.toml", "--store", "s.sqlite"),
            "--rates, --store and --url each say whose rates count: name one",
        ),
        (
            ("--workbook", "stake.xlsx"),
            "--workbook writes an OpenDocument: let the name end in .ods",
        ),
    ],
)
def test_options_that_cannot_both_be_meant_are_refused(
    run: Run, options: tuple[str, ...], says: str
) -> None:
    result = run("quote", "stake.toml", *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert says in " ".join(result.stderr.split())

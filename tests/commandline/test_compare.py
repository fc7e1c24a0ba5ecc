"""Ways to make a product as tables, intervals in words, and as the contract's JSON."""

from pathlib import Path

import msgspec
import pytest

from gramhour.contract.compared import Comparison
from tests import demo
from tests.commandline.conftest import RATES, Run

COMPARED = """\
rates_on = 2026-12-01
channel = "stall"
quantities = [1, 10]
market_price = 10.00
up_to = 10
demand_per_month = 4

[product]
name = "Plant stake"
hazards = ["food contact"]
work = { order_min = 2 }
[[product.pieces]]
name = "stake"
machine = "printer"
feed = [{ material = "pla", mass_g = 50 }]
print_min = 120

[[alternatives]]
label = "today"
[[alternatives]]
label = "wide"
pieces = [{ piece = "stake", nozzle = "wide", print_min = 60 }]
purchase = { price = 20.00 }
"""
SHEET = f"{RATES}\n[nozzles.wide]\nchange_min = 10\n"
SHEET = SHEET.replace("power_w = 100", 'power_w = 100\nusual_nozzle = "n"') + "[nozzles.n]\n"
ASKED = ("compare", "compared.toml", "--rates", "sheet.toml")


@pytest.fixture(autouse=True)
def files(shop: Path) -> Path:
    """A comparison and its sheet beside the small shop's files."""
    (shop / "compared.toml").write_text(COMPARED)
    (shop / "sheet.toml").write_text(SHEET)
    return shop


def test_the_whole_table_reads_as_worked_out_by_hand(run: Run) -> None:
    result = run(*ASKED)
    assert (result.exit_code, result.stderr) == (0, "")
    # today: 1.50 + 3.00 + 0.06 a unit and 1.00 once; an hour brings (10.00 − 1.56 − 1.00)/2
    # wide:  1.50 + 1.50 + 0.03 a unit and 6.00 once; an hour brings 10.00 − 1.53 − 6.00
    # ten: (100.00 − 15.60 − 1.00)/20 and (100.00 − 15.30 − 6.00)/10; 20.00/(7.87 − 4.17) = 5.4
    assert (
        result.stdout
        == """\
Plant stake
stall | EUR | rates of 2026-12-01 | rules version 1
Best is the highest contribution per machine hour; all sold at 10.00.

1 unit, the best first
         Unit    Own  Margin          Machine  Work  a machine  a labour
         cost  price       %  Profit        h   min       hour      hour
today  5.5600  10.00   44.40  4.4400     2.00   2.0     3.7200  253.2000
wide   9.0300  10.00    9.70  0.9700     1.00  12.0     2.4700   42.3500

10 units, the best first
         Unit    Own  Margin           Machine  Work  a machine   a labour
         cost  price       %   Profit        h   min       hour       hour
wide   3.6300  10.00   63.70  63.7000    10.00  12.0     7.8700   423.5000
today  4.6600  10.00   53.40  53.4000    20.00   2.0     4.1700  2532.0000

Which is best at how many
  1: today
  2 to 10: wide

When has it paid for itself: wide, against today
  In orders of 1: never; a unit brings 4.9700 less.
  In orders of 10: never; a unit brings 0.4700 less. Where every machine hour is sold: after 5.4
    machine hours.
What is owned counts as spent, its depreciation too: machine hours that are saved gain nothing here,
unless they are sold.

Cautions
Food contact: Printed layers hold germs, and filament or nozzle may not be fit for food. Ask for the
  material's food-contact declaration and follow the local food-contact law.
"""
    )


def test_where_a_row_is_too_wide_its_name_stands_above_its_numbers(run: Run) -> None:
    file = demo.FOLDER / "shop" / "compare-nozzles.toml"
    told = run("compare", str(file), "--rates", str(demo.SHEET), COLUMNS="80").stdout
    table = """
1 unit, the best first
     Unit    Own  Margin            Machine  Work  a machine  a labour
     cost  price       %    Profit        h   min       hour      hour
0.4 mm, chalk white PLA
  16.5951  31.85  -57.76   -7.1851     3.32   7.6    -1.5562   -8.8895
"""
    assert table in told


def test_the_demos_nozzle_pays_in_large_orders_and_where_every_machine_hour_is_sold(
    run: Run,
) -> None:
    file = demo.FOLDER / "shop" / "compare-nozzles.toml"
    told = " ".join(run("compare", str(file), "--rates", str(demo.SHEET)).stdout.split())
    assert "In orders of 5: never; a unit brings 0.6802 less." in told
    assert "In orders of 60: after 570 units, 22.8 months; a unit brings 0.1019 more." in told
    assert "Where every machine hour is sold: after 34.6 machine hours." in told
    assert "1 to 2: 0.4 mm, chalk white PLA 3 to 60: one more large printer" in told
    assert told.count("Ready on: ") == 4
    losing = (
        "At 1 unit none earns anything: each loses money at this price. A loss over more hours is "
        "less an hour: look at the profit. Ready on: "
    )
    assert losing in told


def test_as_json_it_is_the_contracts_answer(run: Run) -> None:
    found = msgspec.json.decode(run(*ASKED, "--json").stdout, type=Comparison)
    assert [each.label for each in found.alternatives] == ["today", "wide"]


def test_it_is_compared_by_the_stored_rates_and_by_its_own(run: Run, files: Path) -> None:
    none = run("compare", "compared.toml")
    assert none.exit_code == 1
    assert "there is no store" in " ".join(none.stderr.split())
    assert run("rates", "import", "sheet.toml", "--from", "2026-12-01").exit_code == 0
    stored = run("compare", "compared.toml")
    assert "rates of 2026-12-01, revision 1" in stored.stdout
    sent = {**_plain(files / "compared.toml"), "rates": _plain(files / "sheet.toml")}
    (files / "own.json").write_bytes(msgspec.json.encode(sent))
    own = run("compare", "own.json")
    assert own.stdout == stored.stdout.replace(", revision 1", "")
    both = run("compare", "own.json", "--rates", "sheet.toml")
    assert both.exit_code == 1
    assert "There are two rate sheets" in both.stderr


def _plain(path: Path) -> dict[str, object]:
    found: dict[str, object] = msgspec.toml.decode(path.read_bytes())
    return found


def test_faults_are_told_with_their_file_and_place(run: Run, files: Path) -> None:
    text = COMPARED.replace('piece = "stake"', 'piece = "steak"').replace('wide",', 'wde",')
    (files / "compared.toml").write_text(text)
    result = run(*ASKED)
    assert result.exit_code == 1
    assert "/alternatives/1/pieces/0/nozzle" in result.stderr
    assert result.stdout == ""


def test_a_fault_of_the_sheet_stands_in_its_file(run: Run, files: Path) -> None:
    (files / "sheet.toml").write_text(SHEET.replace("power_w = 100", "power_w = -1"))
    result = run(*ASKED)
    assert result.exit_code == 1
    assert "sheet.toml  /machines/printer/power_w" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [("-", "--rates", "-"), ("compared.toml", "--key", "x")],
    ids=["standard input twice", "a key for nobody"],
)
def test_what_makes_no_sense_together_is_a_usage_error(run: Run, arguments: list[str]) -> None:
    assert run("compare", *arguments).exit_code == 2

"""The extension's cell functions: the API's numbers, or an error that no sum passes over."""

import socket
from decimal import Decimal
from typing import Any

import pytest

from tests.http.door import HERE
from tests.office.conftest import Calc, Spoken
from tests.office.running import NEW_SHEET
from tests.server.running import Service

HEADINGS = ["Part", "material", "mass_g", "print_min", "machine", "channel", "quantity", "unit_min"]
PARTS: list[list[Any]] = [
    ["Hook", "asa-green", 42.5, 95, "large", "own-shop", 10, ""],
    ["Stake", "pla-chalk", 12.34, 31.5, "small-2", "own-shop", 1, 2.5],
    ["Clip", "petg-clear", 7, 18, "small-1", "trade", 120, 0.75],
]
LAST = chr(ord("A") + len(HEADINGS) - 1)
FUNCTIONS = ("PRICE", "COST", "MARGIN", "WHY")
ERROR = {"error": 502, "shown": "Err:502"}


def row_of(number: int) -> list[str]:
    """The four functions of a row."""
    cells = f"A$1:{LAST}$1;A{number}:{LAST}{number}"
    return [f"=GRAMHOUR.{each}({cells})" for each in FUNCTIONS]


def fill(calc: Calc, parts: list[list[Any]] = PARTS, headings: list[str] = HEADINGS) -> str:
    last = len(parts) + 1
    calc.office.do("write", where=f"A1:{LAST}{last}", rows=[headings, *parts])
    calc.office.do("write", where=f"K2:N{last}", rows=[row_of(n) for n in range(2, last + 1)])
    return f"K2:N{last}"


def test_a_row_shows_the_price_the_cost_and_the_margin_that_the_service_says(calc: Calc) -> None:
    shown = calc.office.do("read", where=fill(calc))
    with calc.client() as client:
        for part, row in zip(PARTS, shown, strict=True):
            names = dict(zip(HEADINGS, part, strict=True))
            feed = {"material": names["material"], "mass_g": str(names["mass_g"])}
            piece = {"machine": names["machine"], "print_min": str(names["print_min"])}
            work = {"work": {"unit_min": str(names["unit_min"])}} if names["unit_min"] else {}
            asked = client.quote(
                {
                    "product": {"pieces": [{**piece, "feed": [feed]}], **work},
                    "channel": names["channel"],
                    "quantity": names["quantity"],
                }
            ).at_quantity
            assert asked.margin_pct is not None
            figures = (asked.unit_price, asked.unit_cost, asked.margin_pct)
            assert row == [*map(float, figures), ""]


def test_a_cell_that_changes_changes_the_price(calc: Calc) -> None:
    where = fill(calc)
    before = calc.office.do("read", where=where)[0][1]
    calc.office.do("write", where="C2", rows=[[85]])
    assert calc.office.do("read", where=where)[0][1] > before


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("C", "2,5", "mass_g: must have a decimal point, as in 12.50, no comma: not '2,5'"),
        ("B", "asa-gren", "material: unknown code 'asa-gren': the sheet has none such in "
                          "materials; did you mean 'asa-green'?"),
        ("G", 0, "quantity: must be from 1 to 100000, not 0"),
        ("G", 2.5, "quantity: must be a whole number, not '2.5'"),
        ("G", "", "quantity: 'quantity' is missing; it has no default"),
    ],
)  # fmt: skip
def test_what_is_refused_is_an_error_in_the_cell_and_its_words_beside(
    calc: Calc, column: str, value: Any, words: str
) -> None:
    where = fill(calc)
    calc.office.do("write", where=f"{column}2", rows=[[value]])
    *numbers, why = calc.office.do("read", where=where)[0]
    assert numbers == [ERROR, ERROR, ERROR]
    assert why.startswith(words)
    calc.office.do("write", where="K10", rows=[["=SUM(K2:K4)"]])
    assert calc.office.do("read", where="K10") == [[ERROR]]


def test_a_cell_with_an_error_of_its_own_makes_no_number(calc: Calc) -> None:
    where = fill(calc)
    calc.office.do("write", where="H2", rows=[["=1/0"]])
    assert all("error" in each for each in calc.office.do("read", where=where)[0][:3])


def test_a_heading_that_is_nearly_right_is_refused_and_not_passed_over(calc: Calc) -> None:
    headings = [*HEADINGS[:-1], "unit_mn"]
    why = calc.office.do("read", where=fill(calc, headings=headings))[1][3]
    assert why == "the column 'unit_mn' is nearly 'unit_min': write it so, or name it otherwise"


def test_a_sku_shows_what_buyers_pay_for_it(calc: Calc) -> None:
    calc.office.do("write", where="A1:B2", rows=[["sku", "quantity"], ["HP-W", 12]])
    formula = "=GRAMHOUR.PRICE(A$1:B$1;A2:B2)"
    calc.office.do("write", where="D2", rows=[[formula]])
    with calc.client() as client:
        price = client.unit_price(sku="HP-W", quantity=12)
    assert calc.office.do("read", where="D2") == [[float(price)]] == [[float(Decimal("28.90"))]]


def test_a_key_that_sees_no_costs_shows_none(calc: Calc) -> None:
    calc.set_to("price")
    calc.office.do("write", where="A1:B2", rows=[["sku", "quantity"], ["HP-W", 12]])
    cells = "(A$1:B$1;A2:B2)"
    row = [f"=GRAMHOUR.{each}{cells}" for each in FUNCTIONS]
    calc.office.do("write", where="D2:G2", rows=[row])
    assert calc.office.do("read", where="D2:G2") == [[28.9, ERROR, ERROR, ""]]


@pytest.mark.parametrize("address", ["", "127.0.0.1:8750", "ftp://127.0.0.1"])
def test_an_address_that_is_none_is_told(calc: Calc, address: str) -> None:
    calc.office.do("settings", address=address, key="")
    *numbers, why = calc.office.do("read", where=fill(calc))[0]
    assert numbers == [ERROR, ERROR, ERROR]
    assert why == f"the address '{address}' is none: it begins with http:// or https://"


def test_without_a_service_every_cell_shows_an_error(calc: Calc) -> None:
    with socket.create_server((HERE, 0)) as taken:
        port = taken.getsockname()[1]
    calc.set_to(address=f"http://{HERE}:{port}")
    for *numbers, why in calc.office.do("read", where=fill(calc)):
        assert numbers == [ERROR, ERROR, ERROR]
        assert why.startswith(f"http://{HERE}:{port} gives no answer: ")


def test_a_service_that_says_nothing_makes_a_large_sheet_wait_once(calc: Calc) -> None:
    """160 cells that each waited would take 13 minutes, and this test its time limit."""
    with socket.create_server((HERE, 0), backlog=128) as silent:
        calc.set_to(address=f"http://{HERE}:{silent.getsockname()[1]}")
        parts = [[f"Part {n}", "asa-green", n, 95, "large", "own-shop", 10, ""]
                 for n in range(1, 41)]  # fmt: skip
        for row in calc.office.do("read", where=fill(calc, parts)):
            assert row[:3] == [ERROR, ERROR, ERROR]
            assert "timed out" in row[3]


def test_the_key_may_stand_in_the_environment_and_counts_first(
    german: Spoken, shop: Service
) -> None:
    german.office.do("open", url=NEW_SHEET)
    german.office.do("settings", address="http://127.0.0.1:9", key="another")
    shown = german.office.do("read", where=fill(Calc(german.office, shop)))
    german.office.do("close")
    assert [row[3] for row in shown] == ["", "", ""]

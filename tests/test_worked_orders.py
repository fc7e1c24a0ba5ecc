"""Orders whose every digit is known: ten drawn ones, and the example of the contract.

The drawn orders' answers were given alike by two programs written independently of this one
from the same costing rules; the example's inputs and answer come with the contract.
"""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest

from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet
from tests.orders import ORDERS, price

FOLDER = Path(__file__).parent / "worked"
DRAWN = parse_json((FOLDER / "drawn-orders.json").read_bytes())["cases"]
CONTRACT = parse_json((FOLDER / "contract-example.json").read_bytes())


def as_told(expected: Any, told: Any) -> Any:
    """Cut an answer to the members expected; physical amounts compare by value, money as text."""
    if isinstance(expected, dict):
        return {name: as_told(part, told[name]) for name, part in expected.items()}
    if isinstance(expected, list):
        return [as_told(a, b) for a, b in zip(expected, told, strict=True)]
    if isinstance(told, float) and isinstance(expected, str):
        return f"{Decimal(repr(told)):.4f}"
    return told


@pytest.mark.parametrize("number", range(len(DRAWN)))
@pytest.mark.parametrize("explain", [False, True], ids=["plain", "explained"])
def test_a_drawn_order_agrees_in_every_digit(number: int, explain: bool) -> None:
    case = DRAWN[number]
    answer = answer_quote(case["request"], sound_sheet(case["rates"]), explain=explain)
    told = {each.quantity: each for each in (answer.at_quantity, *answer.breaks)}
    for expected in case["answers"]:
        actual = msgspec.to_builtins(told[expected["quantity"]])
        assert as_told(expected, actual) == expected


def test_the_contracts_example_agrees_in_every_digit() -> None:
    answer = answer_quote(CONTRACT["request"], sound_sheet(CONTRACT["rates"]))
    actual = json.loads(msgspec.json.encode(answer.at_quantity))
    expected = json.loads((FOLDER / "contract-example.json").read_bytes())["answer"]
    assert as_told(expected, actual) == expected
    assert answer.currency == "EUR"
    assert answer.rules == "1"
    assert answer.cautions == []


@pytest.mark.parametrize("number", range(len(ORDERS)))
def test_an_order_drawn_widely_agrees_with_an_independent_program(number: int) -> None:
    order = ORDERS[number]
    actual = msgspec.to_builtins(price(order))
    for told in (actual["at_quantity"], *actual["breaks"]):
        told["purchases"] = [row for row in told["purchases"] if "component" in row]
    expected = order["answer"]
    assert as_told(expected, actual) == expected

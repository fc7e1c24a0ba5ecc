"""Explanations: each figure's working evaluates to the figure, in numbers and by name."""

from decimal import Decimal
from typing import Any

import msgspec
import pytest
from hypothesis import given

from gramhour.contract.answer import Break, Explanation, Quote
from gramhour_service.answer.quoting import answer_quote
from tests import demo
from tests.expressions import evaluate
from tests.orders import all_breaks, orders, price


def figures_of(break_: Break) -> dict[str, Decimal]:
    """Flatten the money and ratios of a break by their dotted names, as explanations name them."""
    parts = {"cost.": break_.cost, "fees.": break_.fees, "": break_}
    return {
        f"{part}{name}": value
        for part, struct in parts.items()
        for name, value in msgspec.structs.asdict(struct).items()
        if isinstance(value, Decimal)
    }


def explained(break_: Break) -> list[Explanation]:
    assert isinstance(break_.explain, list)
    return break_.explain


def check_expressions(quote: Quote) -> None:
    for break_ in all_breaks(quote):
        for each in explained(break_):
            assert evaluate(each.expression) == each.value, each.figure
            steps: dict[str, Decimal] = {}
            for step in each.where:
                steps[step.name] = evaluate(step.expression, steps)
            told = evaluate(each.reads, steps)
            assert told == each.value, each.figure


def check_every_figure_is_explained(quote: Quote) -> None:
    for break_ in all_breaks(quote):
        values = {each.figure: each.value for each in explained(break_)}
        figures = figures_of(break_)
        assert {name: values[name] for name in figures} == figures


def without_explanations(quote: Quote) -> Any:
    told = msgspec.to_builtins(quote)
    for break_ in (told["at_quantity"], *told["breaks"]):
        break_.pop("explain", None)
    return told


@pytest.mark.parametrize("name", demo.NAMES)
def test_every_working_of_a_demo_quote_evaluates_to_its_figure(name: str) -> None:
    quote = answer_quote(demo.request(name), demo.sheet(), explain=True)
    check_expressions(quote)
    check_every_figure_is_explained(quote)


@given(orders())
def test_every_working_of_a_drawn_quote_evaluates_to_its_figure(order: Any) -> None:
    quote = price(order, explain=True)
    check_expressions(quote)
    check_every_figure_is_explained(quote)
    assert without_explanations(quote) == without_explanations(price(order))


@pytest.mark.parametrize("name", demo.NAMES)
def test_inputs_stand_where_they_point_or_are_listed_as_defaults(name: str) -> None:
    request = demo.request(name)
    quote = answer_quote(request, demo.sheet(), explain=True)
    document = {**request, "rates": msgspec.to_builtins(demo.sheet())}
    defaults = {note.pointer: note.value for note in quote.basis if note.basis == "default"}
    inputs = [given for each in explained(quote.at_quantity) for given in each.inputs]
    assert inputs
    for each in inputs:
        where: Any = document
        for step in each.pointer.split("/")[1:]:
            where = where[int(step)] if isinstance(where, list) else where.get(step)
            if where is None:
                break
        value = defaults[each.pointer] if where is None else where
        assert Decimal(str(value)) == each.value, each.pointer


def test_a_given_factor_of_one_is_told_and_an_assumed_one_is_not() -> None:
    request: Any = {
        "product": {
            "pieces": [
                {
                    "machine": "m",
                    "print_min": 60,
                    "pieces_per_build": 1,
                    "feed": [{"material": "pla", "mass_g": 50}],
                }
            ]
        },
        "quantity": 2,
        "channel": "shop",
        "aim": {"unit_price": 10},
    }
    rates: Any = {
        "currency": "EUR",
        "labour_rate_per_hour": 0,
        "price_per_kwh": 0,
        "materials": {"pla": {"price_per_kg": 20}},
        "machines": {"m": {"rate_per_hour": "1.00", "power_w": 0}},
        "channels": {"shop": {"prices_include_tax": False}},
    }
    quote = price({"request": request, "rates": rates}, explain=True)
    workings = {each.figure: each.expression for each in explained(quote.at_quantity)}
    assert workings["cost.feedstock"] == "round(2 * 50 * 20 / 1000, 4)"
    assert workings["cost.machine"] == "round(2 * 60 * 1.00 / 60, 4)"
    assert workings["cost.design"] == "round(0 * 2, 4)"

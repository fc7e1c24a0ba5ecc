"""Explanations: each figure's working evaluates to the figure, in numbers and by name."""

import re
from collections import Counter
from decimal import Decimal
from random import Random
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings

from gramhour.contract.answer import Break, Quote
from gramhour.contract.documents import parse_toml
from gramhour.contract.explanation import Explanation, Step
from gramhour_service.answer.quoting import answer_quote
from tests import demo
from tests.expressions import evaluate, evaluate_formula
from tests.orders import all_breaks, drawn, orders, price

NAME = r"[a-z]\w*"
FUNCTIONS = {"round", "round_half_up", "ceil", "exp", "for", "k", "log2", "max", "min", "pi", "sum"}
FUNCTIONS |= {"to"}
IN_WORDS = (
    r"packs of \d+ in the cheapest set of whole packs that holds|held by the cheapest packs for"
)
NOISE = Decimal("1e-12")
"""What is smaller is the noise of division, which figures are rounded clear of."""


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


def written(step: Step) -> str:
    """Say how a step was made, without the words of a search."""
    return re.sub(IN_WORDS, "", step.formula or step.expression)


def check_expressions(quote: Quote) -> Counter[str]:
    """Check workings in numbers and in names, and count the names that are used."""
    names: Counter[str] = Counter()
    for break_ in all_breaks(quote):
        for each in explained(break_):
            assert evaluate(each.expression) == each.value, each.figure
            steps: dict[str, Decimal] = {}
            for step in each.where:
                steps[step.name] = evaluate(step.expression, steps)
                # Written without its brackets, 2 * (7 / 60) has another 40th digit.
                assert abs(steps[step.name] - step.value) <= NOISE, (each.figure, step.name)
            told = evaluate(each.reads, steps)
            assert told == each.value, each.figure
            read = {*re.findall(NAME, " ".join([each.reads, *map(written, each.where)]))}
            read |= {*re.findall(NAME, each.formula)} if each.formula else set()
            assert set(steps) == read - FUNCTIONS, each.figure
            names.update(steps)
    return names


def check_formulas(quote: Quote) -> None:
    """Check that what functions made comes out again of its formula: in decimals, not floats."""
    for break_ in all_breaks(quote):
        steps = {step.name: step for each in explained(break_) for step in each.where}
        values = {name: step.value for name, step in steps.items()}
        written_out: list[Step | Explanation] = [*steps.values(), *explained(break_)]
        for each in written_out:
            if each.formula and not re.search(IN_WORDS, each.formula):
                told = evaluate_formula(each.formula, values)
                assert abs(told - each.value) <= NOISE, each.formula


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
    assert check_expressions(quote)["variable_cost"]
    check_every_figure_is_explained(quote)
    check_formulas(quote)


@settings(max_examples=settings().max_examples // 4)
@given(orders())
def test_every_working_of_a_drawn_quote_evaluates_to_its_figure(order: Any) -> None:
    quote = price(order, explain=True)
    check_expressions(quote)
    check_every_figure_is_explained(quote)
    assert without_explanations(quote) == without_explanations(price(order))


def standing_at(document: Any, pointer: str) -> Any:
    """Look up an RFC 6901 pointer, or find nothing there."""
    for step in pointer.split("/")[1:]:
        name = step.replace("~1", "/").replace("~0", "~")
        document = document[int(name)] if isinstance(document, list) else document.get(name)
        if document is None:
            return None
    return document


def check_inputs(quote: Quote, request: Any, rates: Any) -> Counter[str]:
    """Check where inputs point, and count those that were given and those that are defaults."""
    document = {**request, "rates": rates}
    defaults = {note.pointer: note.value for note in quote.basis if note.basis == "default"}
    found: Counter[str] = Counter()
    for break_ in all_breaks(quote):
        for each in (source for figure in explained(break_) for source in figure.inputs):
            given_there = standing_at(document, each.pointer)
            assert (given_there is None) == (each.pointer in defaults), each.pointer
            value = defaults[each.pointer] if given_there is None else given_there
            assert Decimal(str(value)) == each.value, each.pointer
            found["default" if given_there is None else each.pointer.split("/")[1]] += 1
    return found


@pytest.mark.parametrize("name", demo.NAMES)
def test_inputs_of_a_demo_quote_stand_where_they_point_or_are_listed_as_defaults(name: str) -> None:
    quote = answer_quote(demo.request(name), demo.sheet(), explain=True)
    rates = parse_toml(demo.SHEET.read_bytes())
    found = check_inputs(quote, demo.request(name), rates)
    assert found["rates"]
    assert found["product"]


@given(orders())
def test_inputs_of_a_drawn_quote_stand_where_they_point_or_are_listed_as_defaults(
    order: Any,
) -> None:
    assert check_inputs(price(order, explain=True), order["request"], order["rates"])["rates"]


def test_the_inputs_of_drawn_quotes_come_from_the_product_the_sheet_the_aim_and_defaults() -> None:
    found: Counter[str] = Counter()
    for seed in range(60):
        order = drawn(Random(seed))
        found += check_inputs(price(order, explain=True), order["request"], order["rates"])
    assert set(found) == {"product", "rates", "aim", "discount_pct", "default"}


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

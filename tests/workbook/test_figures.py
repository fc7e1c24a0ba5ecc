"""Numbers that become cells: what they keep, what they refuse, and what they note."""

import math
import operator
from collections.abc import Iterator
from decimal import Decimal

import pytest

from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.workbook import calculating
from gramhour_service.workbook.figures import (
    Condition,
    Figure,
    cell,
    conditions_kept,
    figures_shared,
    formula,
    named,
)
from gramhour_service.workbook.roundings import half_even, half_up
from gramhour_service.workbook.writing import written


@pytest.fixture(autouse=True)
def within() -> Iterator[None]:
    with figures_shared(), costing_arithmetic():
        yield


def a(value: str, name: str = "a") -> Figure:
    return cell(Decimal(value), f"/{name}", "")


def in_words(figure: Figure) -> str:
    return figure.text.removeprefix("/") if figure.text else figure.name


def test_a_formula_has_the_brackets_that_its_value_needs() -> None:
    x, y, z = a("2", "x"), a("3", "y"), a("5", "z")
    figure = z - (x + y) * (x - (y - z)) / (x * y)
    assert written(figure, in_words) == "z-(x+y)*(x-(y-z))/(x*y)"
    assert Decimal(figure) == Decimal(5) - Decimal(5) * Decimal(4) / Decimal(6)


def test_what_stands_alone_in_a_call_needs_no_brackets_and_elsewhere_it_does() -> None:
    x, y = a("2", "x"), a("3", "y")
    assert written(formula("MAX({0};{1}*2)", 10, x + y, x + y), in_words) == "MAX(x+y;(x+y)*2)"
    assert written(formula("1/{0}-1", 1, x) * y, in_words) == "(1/x-1)*y"


def test_a_figure_with_a_name_is_referred_to_and_not_written_out() -> None:
    x = a("2", "x")
    assert written(named(x * 3, "threefold") + x, in_words) == "threefold+x"


def test_the_same_working_is_one_figure() -> None:
    x = a("2", "x")
    assert (x * 3) is (x * 3)
    assert (x * 3) is not (x * 4)


def test_a_comparison_is_noted_with_its_outcome() -> None:
    x, kept = a("2", "x"), list[Condition]()
    with conditions_kept(kept):
        assert max(x, Decimal(1)) is x
    assert [(each.sign, each.right, each.outcome) for each in kept] == [("<", Decimal(1), False)]


@pytest.mark.parametrize("lose", [int, float, abs, round, math.ceil, operator.neg])
def test_what_would_lose_the_working_is_refused(lose: object) -> None:
    with pytest.raises(TypeError, match="would make a constant of a figure"):
        lose(a("2"))  # type: ignore[operator]


@pytest.mark.parametrize(
    ("amount", "told"),
    [("0.00005", "0.0000"), ("0.00015", "0.0002"), ("1.00005000000049", "1.0000"),
     ("1.0000500000005", "1.0000"), ("1.000050000001", "1.0001"), ("-0.00015", "-0.0002")],
)  # fmt: skip
def test_half_even_is_the_calculations(amount: str, told: str) -> None:
    rounded = half_even(a(amount), 4)
    assert (str(rounded), type(rounded)) == (told, Figure)


def test_half_up_is_the_calculations() -> None:
    assert [str(half_up(a(each, each), 2)) for each in ("0.005", "0.0049", "1.115")] == [
        "0.01", "0.00", "1.12"
    ]  # fmt: skip


def test_all_that_is_given_as_formulas_is_called_so_in_the_calculation() -> None:
    modules = (*calculating.CALCULATION, *calculating.RESOLVING)
    known = {name for module in modules for name in vars(module)}
    assert set(calculating.AS_FORMULAS) - known == set()

"""Labour learning, Crawford's unit curve, against published tables.

Tables are rounded half up to the decimals they show; that rounding is the tolerance.
"""

from decimal import Decimal
from typing import Any

import pytest

from gramhour_service.answer.quoting import answer_quote
from gramhour_service.calculation.design import one_off_per_unit
from gramhour_service.calculation.learning import learning_exponent, learning_factor
from tests.published.small_sheets import as_printed, priced

# Operations-management textbook exhibits 4A.3B and 4A.4 (numbering as in Chase, Jacobs &
# Aquilano; attribution inferred): 80 % curve, first unit 10: unit time, cumulative time.
EXHIBIT = {
    5: ("5.9564", "37.3774"),
    10: ("4.7651", "63.1537"),
    20: ("3.8121", "104.8494"),
    50: ("2.8383", "201.2171"),
    100: ("2.2706", "326.5081"),
    1000: ("1.0820", "1586.7092"),
}


def learnt(learning_pct: Any, made_before: int = 0) -> dict[str, Any]:
    work = {
        "unit_min": 10,
        "learning_pct": learning_pct,
        "learning_until": 1000,
        "made_before": made_before,
    }
    return {"work": work}


def test_orders_take_the_published_cumulative_times() -> None:
    sent = {
        "product": learnt(80),
        "quantity": 1000,
        "breaks": list(EXHIBIT),
        "channel": "shop",
        "aim": {"margin_pct": 0},
        "rates": {
            "currency": "EUR",
            "labour_rate_per_hour": 60,
            "price_per_kwh": 0,
            "channels": {"shop": {"prices_include_tax": False}},
        },
    }
    breaks = answer_quote(sent).breaks
    assert {each.quantity: as_printed(each.use.labour_min, 4) for each in breaks} == {
        quantity: Decimal(cumulative) for quantity, (_, cumulative) in EXHIBIT.items()
    }
    # At 60 an hour a minute costs one.
    assert {each.quantity: each.cost.labour for each in breaks} == {
        quantity: Decimal(cumulative) for quantity, (_, cumulative) in EXHIBIT.items()
    }


@pytest.mark.parametrize("unit", EXHIBIT)
def test_a_unit_made_after_others_takes_its_published_time(unit: int) -> None:
    made = priced(learnt(80, made_before=unit - 1))
    assert as_printed(made.use.labour_min, 4) == Decimal(EXHIBIT[unit][0])


# The same exhibits, coefficients: unit and total, for unit 10 and 20.
COEFFICIENTS = [
    (70, 10, "0.306", "4.932"),
    (75, 10, "0.385", "5.589"),
    (80, 10, "0.477", "6.315"),
    (85, 10, "0.583", "7.116"),
    (70, 20, "0.214", "7.407"),
    (75, 20, "0.288", "8.828"),
    (80, 20, "0.381", "10.485"),
    (85, 20, "0.495", "12.402"),
]


@pytest.mark.parametrize(("learning_pct", "unit", "of_unit", "in_all"), COEFFICIENTS)
def test_coefficients_are_the_published_ones(
    learning_pct: int, unit: int, of_unit: str, in_all: str
) -> None:
    rate = Decimal(learning_pct)
    assert as_printed(learning_factor(1, rate, 1000, unit - 1), 3) == Decimal(of_unit)
    assert as_printed(learning_factor(unit, rate, 1000, 0), 3) == Decimal(in_all)


@pytest.mark.parametrize(
    ("learning_pct", "third"),
    # The same exhibits: third unit on curves of 60 to 95 %.
    [
        (60, "0.4450"),
        (65, "0.5052"),
        (70, "0.5682"),
        (75, "0.6338"),
        (80, "0.7021"),
        (85, "0.7729"),
        (90, "0.8462"),
        (95, "0.9219"),
    ],
)
def test_the_third_unit_takes_its_published_share(learning_pct: int, third: str) -> None:
    assert as_printed(3 ** learning_exponent(Decimal(learning_pct)), 4) == Decimal(third)


@pytest.mark.parametrize(("unit", "minutes"), [(1, "10"), (2, "8"), (4, "6.4"), (8, "5.12")])
def test_each_doubling_takes_the_learning_rate(unit: int, minutes: str) -> None:
    # Slides to M. P. Groover, Work Systems (Pearson 2007), ch. 19: first unit 10, rate 80 %.
    assert 10 * learning_factor(1, Decimal(80), 1000, unit - 1) == Decimal(minutes)


def test_the_rate_is_of_the_unit_and_not_of_the_average() -> None:
    # R. M. Wideman, "Learning Curve Mathematics" (maxwideman.com, appendix 2): where 80 % is of
    # the cumulative average (Wright) the second unit takes 60 %, the average of two 80 %. Ours
    # is the unit model of that page: the second unit takes 80 %, the average of two is 90 %.
    assert learning_factor(1, Decimal(80), 1000, 1) == Decimal("0.8")
    assert learning_factor(2, Decimal(80), 1000, 0) / 2 == Decimal("0.9")


def test_a_mould_is_spread_over_the_parts_it_makes() -> None:
    # University of Maryland, M3T cost formulation, after Esawi & Ashby: a mould of 500 000 over
    # 5 million parts is 0.10 a part. The contract takes a million units at most, so an order is
    # asked with a tenth of both.
    assert one_off_per_unit(Decimal(500_000), 5_000_000) == Decimal("0.1")
    fee = {"one_off": 50_000, "one_off_units": 500_000}
    assert priced({"design_fee": fee}).cost.design == Decimal("0.1")

"""When a purchase has paid for itself, worked out by hand; nothing of it is counted twice."""

from decimal import Decimal
from typing import Any

import pytest
from msgspec import UNSET

from gramhour.contract.compared import Payback
from tests.comparing.small_shop import PIECE, RATES, compared, comparison

NEW_MACHINE: dict[str, Any] = {
    "label": "new",
    "pieces": [{"machine": "new", "print_min": 60, "mass_g": 500}],
    "purchase": {"price": 120_000, "machine": "new"},
}


def paid(sent: Any) -> Payback:
    """The payback of the second alternative at the first quantity."""
    payback = compared(sent).alternatives[1].payback
    assert payback is not UNSET
    return payback[0]


def test_a_bought_printer_bears_interest_space_and_upkeep_but_not_its_depreciation() -> None:
    # BWH-Lernkartei 527603937, an hour: 6.67 depreciation, 2.00 interest, 0.72 space, 4.00
    # upkeep, and 0.96 of energy, which is a line of its own.
    # Today a unit brings 50 − 20 of filament; with the new printer 50 − 10 − 0.96, and its hour
    # costs 2.00 + 0.72 + 4.00.
    gain = (50 - 10 - Decimal("0.96") - Decimal("6.72")) - (50 - 20)
    told = paid(comparison(NEW_MACHINE, demand_per_month=1_000))
    assert told.gain_per_unit == gain == Decimal("2.32")
    assert told.units == 51_725  # 120 000/2.32 = 51 724.14, rounded up
    assert (told.outcome, told.months) == ("pays_back", 51.725)


def test_with_the_depreciation_in_it_the_same_printer_would_never_pay() -> None:
    # The whole hour costs 13.3867 (14.35 in the source, with its energy), which stands in the cost
    # of a unit: 10.00 + 0.96 + 13.3867. A unit would bring less than today's 50 − 20.
    _, new = compared(comparison(NEW_MACHINE)).alternatives
    assert new.at[0].unit_cost == Decimal("24.3467")
    assert 50 - new.at[0].unit_cost < 50 - 20


def test_what_is_bought_but_named_to_be_no_printer_costs_nothing_to_run() -> None:
    anonymous = NEW_MACHINE | {"purchase": {"price": 120_000}}
    assert paid(comparison(anonymous)).gain_per_unit == 20 - 10 - Decimal("0.96")


@pytest.mark.parametrize(
    ("price", "gain", "units"),
    [("13268", "15.50", 856), ("13127.40", "15.30", 858), ("31", "15.50", 2), ("0.01", "15.50", 1)],
    ids=["textbook exercise, 15.50", "textbook exercise, 15.30", "exactly two", "a cent"],
)
def test_the_units_that_pay_a_purchase_back_are_those_of_break_even_rounded_up(
    price: str, gain: str, units: int
) -> None:
    # Break-even exercises: fixed 13 268 at 15.50 each, 856; fixed 13 127.40 at 15.30 each, 858.
    dear = {**RATES["materials"], "dear": {"price_per_kg": gain}}
    piece = {**PIECE, "feed": [{"material": "dear", "mass_g": 1000}]}
    cheaper = {
        "label": "free",
        "pieces": [{"material": "free"}],
        "purchase": {"price": price},
    }
    told = paid(
        comparison(cheaper, product={"pieces": [piece]}, rates={**RATES, "materials": dear})
    )
    assert (told.gain_per_unit, told.units) == (Decimal(gain), units)


def test_the_wear_of_a_bought_nozzle_is_the_purchase_itself() -> None:
    # 850 g instead of 1000 g at 20.00 a kilogram save 3.00; the wear would be 3.40 a unit.
    way = {"label": "nozzle", "pieces": [{"nozzle": "bought", "mass_g": 850}]}
    told = paid(comparison(way | {"purchase": {"price": "40.00", "nozzle": "bought"}}))
    assert (told.gain_per_unit, told.units) == (Decimal("3.00"), 14)
    told = paid(comparison(way | {"purchase": {"price": "40.00"}}))
    assert (told.gain_per_unit, told.outcome) == (Decimal("-0.40"), "never")


@pytest.mark.parametrize("grams", [1000, 1001], ids=["does not rise", "falls"])
def test_never_where_the_contribution(grams: int) -> None:
    way = {"label": "b", "pieces": [{"mass_g": grams}], "purchase": {"price": 1}}
    told = paid(comparison(way, demand_per_month=3))
    assert (told.outcome, told.units, told.months) == ("never", None, None)
    assert told.gain_per_unit == Decimal("-0.02") * (grams - 1000)


def test_without_a_market_price_both_are_sold_at_the_price_of_the_first() -> None:
    # At cost (markup 0) the cheaper way would be sold cheaper, and never gain anything.
    way = {"label": "b", "pieces": [{"material": "ten"}], "purchase": {"price": 25}}
    sent = comparison(way)
    del sent["market_price"]
    told = paid(sent)
    # 20.00 of filament and 2 h at 5.00 an hour
    assert (told.unit_price, told.gain_per_unit, told.units) == (Decimal(30), Decimal(10), 3)
    found = compared(sent)
    assert [each.at[0].unit_price for each in found.alternatives] == [Decimal(30), Decimal(20)]


def test_months_are_those_of_the_demand_and_absent_without_one() -> None:
    way = {"label": "b", "pieces": [{"material": "ten"}], "purchase": {"price": 95}}
    assert paid(comparison(way)).months is UNSET
    assert paid(comparison(way, demand_per_month="2.5")).months == 4.0  # 10 units


def test_hours_that_become_free_earn_nothing_unless_every_hour_is_sold() -> None:
    # One hour instead of two, the same filament: no unit brings more, but an hour does.
    way = {"label": "b", "pieces": [{"print_min": 60}], "purchase": {"price": 60}}
    told = paid(comparison(way))
    assert (told.outcome, told.gain_per_unit) == ("never", Decimal(0))
    assert told.machine_h_saved_per_unit == 1.0
    # 30.00 an hour instead of 15.00
    assert told.machine_h_when_full == 4.0


def test_a_purchase_is_judged_at_each_quantity_as_the_size_of_orders() -> None:
    # Changing the nozzle takes 6 minutes at 30.00 an hour, once an order: 3.00.
    old = RATES["machines"]["old"] | {"usual_nozzle": "plain"}
    nozzles = {"plain": {}, "bought": {"change_min": 6}}
    rates = {**RATES, "machines": {**RATES["machines"], "old": old}, "nozzles": nozzles}
    way = {"label": "b", "pieces": [{"nozzle": "bought", "mass_g": 900}], "purchase": {"price": 17}}
    payback = compared(comparison(way, rates=rates, quantities=[10, 1, 2])).alternatives[1].payback
    assert payback is not UNSET
    assert [(each.quantity, each.gain_per_unit, each.units) for each in payback] == [
        (1, Decimal("-1.00"), None),
        (2, Decimal("0.50"), 34),
        (10, Decimal("1.70"), 10),
    ]

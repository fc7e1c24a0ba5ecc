"""Ways side by side: what stands beside what, who is best, and the intervals of quantity."""

from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import UNSET

from gramhour.contract.answer import Break
from gramhour.contract.compared import Comparison
from gramhour.contract.problem import Refused
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet
from tests.comparing.small_shop import PIECE, RATES, SHAPED, WITH_PROFILES, compared, comparison
from tests.orders import drawn

CHEAP = {"label": "cheap", "pieces": [{"material": "ten"}]}
FAST = {"label": "fast", "pieces": [{"print_min": 30}]}
CRITERIA = (
    "unit_cost",
    "unit_price",
    "margin",
    "contribution_per_machine_hour",
    "contribution_per_labour_hour",
)
OF_MARKET = CRITERIA[2:]


def best_first(found: Comparison) -> list[list[str]]:
    return [[each.label for each in ranking.alternatives] for ranking in found.rankings]


def intervals(found: Comparison) -> list[tuple[int, int, str | None]]:
    assert found.intervals is not UNSET
    return [(each.from_quantity, each.to_quantity, each.label) for each in found.intervals]


def test_each_way_is_costed_and_sold_as_worked_out_by_hand() -> None:
    found = compared(comparison(CHEAP, FAST, product={
        "pieces": [PIECE], "work": {"unit_min": 6}}, quantities=[2]))  # fmt: skip
    today, cheap, fast = (each.at[0] for each in found.alternatives)
    # 20.00 of filament, 2 h at 5.00, 6 min at 30.00 an hour
    assert [today.unit_cost, cheap.unit_cost, fast.unit_cost] == [33, 23, Decimal("25.50")]
    assert [today.unit_price, today.margin_pct] == [33, 0]
    assert [today.market_margin_pct, today.profit] == [34, 34]
    # 50.00 − 20.00 − 3.00 over two hours, and over half an hour
    assert today.contribution_per_machine_hour == Decimal("13.50")
    assert fast.contribution_per_machine_hour == 54
    # 50.00 − 20.00 over a tenth of an hour
    assert today.contribution_per_labour_hour == 300
    assert (today.machine_h, today.labour_min) == (4.0, 12.0)
    assert today.ready_on is UNSET, "the sheet has no staffed hours"


def test_what_is_probably_in_another_unit_is_told_of_the_way_that_it_is_in() -> None:
    in_hours = {"label": "wide", "pieces": [{"print_min": 2}]}
    (caution,) = compared(comparison(FAST, in_hours, product={
        "pieces": [{**PIECE, "print_min": 240}]})).cautions[1:]  # fmt: skip
    assert caution.says.startswith("wide: 1000 g in 2 min of piece 1 are 30000 g an hour, more")


@pytest.mark.parametrize(
    ("criterion", "best"),
    [
        ("unit_cost", ["cheap 23.0000", "fast 25.5000", "today 33.0000"]),
        ("unit_price", ["cheap 23.00", "fast 25.50", "today 33.00"]),
        ("margin", ["cheap 54.00", "fast 49.00", "today 34.00"]),
        ("contribution_per_machine_hour", ["fast 54.0000", "cheap 18.5000", "today 13.5000"]),
        ("contribution_per_labour_hour", ["cheap 400.0000", "today 300.0000", "fast 300.0000"]),
    ],
)
def test_the_lowest_cost_or_price_is_best_and_the_highest_of_all_else(
    criterion: str, best: list[str]
) -> None:
    product = {"pieces": [PIECE], "work": {"unit_min": 6}}
    found = compared(comparison(CHEAP, FAST, product=product, criterion=criterion))
    (ranking,) = found.rankings
    assert [f"{each.label} {each.value}" for each in ranking.alternatives] == best


def test_the_default_criterion_is_the_contribution_per_machine_hour() -> None:
    found = compared(comparison(CHEAP, FAST))
    assert found.criterion == "contribution_per_machine_hour"
    assert best_first(found) == [["fast", "cheap", "today"]]
    assert [each.value for each in found.rankings[0].alternatives] == [60, 20, 15]


def test_of_equals_the_one_named_first_is_best() -> None:
    found = compared(comparison({"label": "same"}, {"label": "again"}, up_to=5))
    assert best_first(found) == [["today", "same", "again"]]
    assert intervals(found) == [(1, 5, "today")]


def test_a_way_without_a_value_comes_last() -> None:
    timeless = {"label": "no hours", "pieces": [{"print_min": 0}]}
    found = compared(comparison(timeless, up_to=3, alternatives=[timeless, {"label": "today"}]))
    assert best_first(found) == [["today", "no hours"]]
    assert found.rankings[0].alternatives[1].value is None
    assert intervals(found) == [(1, 3, "today")]


def test_where_no_way_has_a_value_none_is_best() -> None:
    found = compared(comparison(CHEAP, criterion="contribution_per_labour_hour", up_to=3))
    assert best_first(found) == [["today", "cheap"]]
    assert intervals(found) == [(1, 3, None)]


def test_only_quantities_that_the_channel_sells_are_looked_at() -> None:
    found = compared(comparison(CHEAP, channel="by-six", quantities=[6], up_to=20))
    assert intervals(found) == [(6, 18, "cheap")]


def test_without_up_to_there_are_no_intervals() -> None:
    assert compared(comparison(CHEAP)).intervals is UNSET


def test_a_market_price_is_the_own_one_where_nothing_else_says_what_it_is_to_reach() -> None:
    late = {"prices_include_tax": False, "margin_breaks": [{"from_quantity": 3, "margin_pct": 0}]}
    rates = {**RATES, "channels": {"shop": late}}
    found = compared(comparison(rates=rates, quantities=[2, 3]))
    assert [each.unit_price for each in found.alternatives[0].at] == [50, 30]
    assert [each.profit for each in found.alternatives[0].at] == [40, 60]


def test_quantities_are_told_in_rising_order_each_once() -> None:
    found = compared(comparison(CHEAP, quantities=[7, 1, 7]))
    assert [each.quantity for each in found.rankings] == [1, 7]
    assert [each.quantity for each in found.alternatives[1].at] == [1, 7]


def test_steps_of_builds_make_the_best_way_alternate() -> None:
    # A plate of three prints as long however full it is: best where it is full.
    plate = {"pieces_per_build": 3, "print_min": 180, "per_build_min": 180, "mass_g": 3000}
    three = {"label": "three", "pieces": [plate]}
    one = {"label": "one", "pieces": [{"print_min": 75}]}
    found = compared(comparison(three, alternatives=[one, three], criterion="unit_cost", up_to=7))
    # one: 20.00 + 1.25 h · 5.00 = 26.25 a unit. three: 20.00 and 15.00 a plate: 1 unit 35.00,
    # 2 units 27.50, 3 units 25.00, 4: 27.50, 5: 26.00, 6: 25.00, 7: 20.00 + 45/7 = 26.4286
    assert intervals(found) == [
        (1, 2, "one"),
        (3, 3, "three"),
        (4, 4, "one"),
        (5, 6, "three"),
        (7, 7, "one"),
    ]


def quoted(sent: Any, way: dict[str, Any], quantities: list[int], market: Any) -> list[Break]:
    """Quote a way, at its own price or the market's, by a request written out."""
    request = {
        "product": way, "channel": sent["channel"], "quantity": quantities[0], "breaks": quantities,
    }  # fmt: skip
    if market is not None:
        request["aim"] = {"unit_price": market}
    elif "aim" in sent:
        request["aim"] = sent["aim"]
    return answer_quote(request, sound_sheet(sent["rates"])).breaks


def brute_force(sent: Any, ways: dict[str, Any]) -> list[tuple[int, int, str | None]]:
    """Quote every way at every quantity, and say who is best from where to where."""
    criterion = sent["criterion"]
    multiple = sent["rates"]["channels"][sent["channel"]].get("multiple_of", 1)
    quantities = list(range(multiple, sent["up_to"] + 1, multiple))
    market = sent.get("market_price") if criterion in OF_MARKET else None
    member = "margin_pct" if criterion == "margin" else criterion
    values = {
        label: [getattr(each, member) for each in quoted(sent, way, quantities, market)]
        for label, way in ways.items()
    }
    found: list[tuple[int, int, str | None]] = []
    for n, quantity in enumerate(quantities):
        best, best_value = None, None
        for label in ways:
            value = values[label][n]
            if value is None:
                continue
            is_better = best_value is None or (
                value < best_value if criterion.startswith("unit") else value > best_value
            )
            if is_better:
                best, best_value = label, value
        if found and found[-1][2] == best:
            found[-1] = (found[-1][0], quantity, best)
        else:
            found.append((quantity, quantity, best))
    return found


def a_comparison(random: Random) -> tuple[dict[str, Any], dict[str, Any]]:
    """Draw a comparison of plates of several sizes, and each way's product as one writes it.

    A piece takes about as long and as much on each, so that steps decide.
    """
    order = drawn(random)
    rates, product = order["rates"], order["request"]["product"]
    minutes, grams = random.uniform(2, 8), random.randint(5, 60)
    piece = {"machine": random.choice([*rates["machines"]])}
    ways, alternatives = dict[str, Any](), list[dict[str, Any]]()
    for label in ("a", "b", "c", "d"):
        size = random.randint(1, 12)
        takes = int(10 + size * minutes * random.uniform(0.9, 1.1))
        change = {
            "nozzle": random.choice([*rates["nozzles"]]),
            "pieces_per_build": size,
            "print_min": takes,
            "per_build_min": random.randint(takes // 2, takes),
        }
        material = random.choice([*rates["materials"]])
        feed = {"material": material, "mass_g": grams * size}
        ways[label] = {**product, "pieces": [{**piece, **change, "feed": [feed]}]}
        alternatives.append({"label": label, "pieces": [{**change, **feed}]})
    unlike = {
        **piece,
        "print_min": 1,
        "feed": [{"material": next(iter(rates["materials"])), "volume_cm3": 1}],
    }
    sent = {
        "product": {**product, "pieces": [unlike]},
        "channel": "shop",
        "alternatives": alternatives,
        "criterion": random.choice(CRITERIA),
        "up_to": random.randint(12, 50),
        "rates": rates,
        "quantities": [rates["channels"]["shop"]["multiple_of"]],
    }
    if sent["criterion"] == "margin" or random.random() < 0.5:
        sent["market_price"] = str(random.randint(1, 2000))
    if "aim" in order["request"]:
        sent["aim"] = order["request"]["aim"]
    return sent, ways


def said(sent: Any, ways: dict[str, Any]) -> Any:
    """What quoting says: the intervals, or the type of its refusal."""
    try:
        for way in ways.values():
            quoted(sent, way, sent["quantities"], None)
        return brute_force(sent, ways)
    except Refused as refused:
        return refused.type


def answered(sent: Any) -> Any:
    try:
        return intervals(compared(sent))
    except Refused as refused:
        return refused.type


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=settings().max_examples // 15)
def test_intervals_are_those_of_quoting_every_quantity(seed: int) -> None:
    sent, ways = a_comparison(Random(seed))
    assert answered(sent) == said(sent, ways)


def test_what_is_drawn_has_intervals_that_alternate() -> None:
    found = [said(*a_comparison(Random(seed))) for seed in range(25)]
    answers = [each for each in found if not isinstance(each, str)]
    assert len(answers) >= 15
    assert max(map(len, answers)) >= 5


def test_a_shape_is_compared_by_profiles_filaments_and_a_build_that_was_read_off() -> None:
    changes: dict[str, dict[str, Any]] = {
        "twice as fast": {"profile": "twice"},
        "light": {"material": "light"},
        "swapped": {"materials": {"dense": "light"}},
        "read off": {"mass_g": 50, "print_min": 90, "material": "light"},
    }
    ways = [{"label": label, "pieces": [change]} for label, change in changes.items()]
    told = compared(
        comparison(*ways, rates={**RATES, **WITH_PROFILES}, product={"pieces": [SHAPED]})
    )
    costs = {each.label: each.at[0].unit_cost for each in told.alternatives}
    assert costs == {
        "today": Decimal("6.44"),  # 72 g for 1.44, and an hour for 5.00
        "twice as fast": Decimal("3.94"),
        "light": Decimal("5.72"),
        "swapped": Decimal("5.72"),
        "read off": Decimal("8.50"),
    }

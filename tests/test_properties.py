"""What must always hold, whatever the order (the properties of the costing rules)."""

import copy
import math
from collections import Counter
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from random import Random
from typing import Any, get_args

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from gramhour.contract.answer import Break, CostLines, Fees, Flag, Quote
from tests.orders import CURRENCIES, all_breaks, drawn, orders, price

MONEY = {
    *("labour_rate_per_hour", "price_per_kwh", "price_per_kg", "list_price"),
    *("shipping_per_purchase", "price", "rate_per_hour", "replacement_price", "residual_value"),
    *("space_per_year", "maintenance_per_year", "per_unit", "one_off"),
}
OVERHEADS = ("material_overhead", "production_overhead", "admin_overhead")
SEEDS = range(400)
"""Orders drawn from these are always the same, so what they reach can be counted."""


def lines_of(break_: Break) -> dict[str, Decimal]:
    lines: dict[str, Decimal] = msgspec.structs.asdict(break_.cost)
    del lines["total"]
    return lines


def overhead_pct(order: Any, line: str) -> Decimal:
    return Decimal(str(order["rates"].get(f"{line}_pct", 0)))


def solved_for(order: Any, aim: dict[str, Any], **changes: Any) -> Any:
    """Ask an order again, for one quantity and without a discount."""
    kept = {name: part for name, part in order["request"].items() if name != "discount_pct"}
    return order | {"request": kept | {"aim": aim, "breaks": []} | changes}


def doubled(node: Any) -> Any:
    if isinstance(node, dict):
        return {
            name: str(2 * Decimal(str(value))) if name in MONEY else doubled(value)
            for name, value in node.items()
        }
    return [doubled(each) for each in node] if isinstance(node, list) else node


def test_the_drawn_orders_reach_what_the_properties_speak_of() -> None:
    reached: Counter[str] = Counter()
    for seed in SEEDS:
        order = drawn(Random(seed))
        pieces = order["request"]["product"]["pieces"]
        machines = order["rates"]["machines"]
        reached["hours form"] += any(
            "hours_between_failures" in machines[piece["machine"]] for piece in pieces
        )
        reached["discount"] += bool(Decimal(str(order["request"].get("discount_pct", 0))))
        for break_ in all_breaks(price(order)):
            reached.update(break_.flags)
            reached.update(line for line, amount in lines_of(break_).items() if amount)
            reached.update(fee for fee, paid in msgspec.structs.asdict(break_.fees).items() if paid)
            reached["bought packs"] += any(
                isinstance(row.component, str) for row in break_.purchases
            )
            reached["whole packs"] += any(isinstance(row.material, str) for row in break_.purchases)
    amounts = (*msgspec.structs.fields(CostLines), *msgspec.structs.fields(Fees))
    not_drawn = {"total", "differs_from_listing"}  # a flag of quotes by sku
    wanted = {*get_args(Flag), *(each.name for each in amounts), *reached} - not_drawn
    assert {name: reached[name] for name in wanted if reached[name] < 3} == {}


@given(orders())
def test_lines_add_up_and_what_the_buyer_pays_is_shared_out_to_the_last_digit(order: Any) -> None:
    for each in all_breaks(price(order)):
        assert sum(lines_of(each).values()) == each.cost.total
        assert each.order_net + each.order_tax == each.order_gross
        assert each.cost.total + each.fees.total + each.profit == each.order_net
        fees = each.fees
        parts = (fees.channel, fees.payment, fees.fixed, fees.postage, fees.design_share)
        assert sum(parts) == fees.total
        included = order["rates"]["channels"]["shop"]["prices_include_tax"]
        paid = each.order_gross if included else each.order_net
        assert each.order_goods + each.order_postage == paid


def meets(aim: dict[str, Any], each: Break) -> bool:
    ((by, pct),) = aim.items()
    of = each.order_net if by == "margin_pct" else each.cost.total
    return each.profit * 100 >= Decimal(str(pct)) * of


def misses_below(order: Any, aim: dict[str, Any]) -> bool:
    """Check the price solved for an aim; say whether a lower allowed one was not under the raw."""
    each = price(solved_for(order, aim), explain=True).at_quantity
    assert isinstance(each.explain, list)
    (raw,) = (told.value for told in each.explain if told.figure == "raw_unit_price")
    channel = order["rates"]["channels"]["shop"]
    digits, _ = CURRENCIES[order["rates"]["currency"]]
    step = Decimal(str(channel.get("price_step", Decimal(1).scaleb(-digits))))
    ending = Decimal(str(channel.get("price_ending", 0)))
    assert meets(aim, each)
    assert each.unit_price >= max(raw, ending or step)
    assert (each.unit_price - ending) % step == 0
    below = each.unit_price - step
    if below < raw or below <= 0:
        return False
    assert not meets(aim, price(solved_for(order, {"unit_price": str(below)})).at_quantity)
    return True


AIMS = st.one_of(
    st.decimals(-100, 60, places=2).map(lambda pct: {"margin_pct": str(abs(pct) and pct)}),
    st.decimals(-100, 400, places=2).map(lambda pct: {"markup_pct": str(abs(pct) and pct)}),
)


@given(orders(), AIMS)
def test_a_solved_price_is_the_smallest_allowed_one_that_meets_its_aim(
    order: Any, aim: dict[str, Any]
) -> None:
    misses_below(order, aim)


def test_one_unit_often_needs_a_step_more_than_the_first_allowed_price() -> None:
    # Of one unit, and in the minor unit, rounding of tax and fees outweighs the price's own.
    found = 0
    for seed in SEEDS:
        order = drawn(Random(seed))
        channel = order["rates"]["channels"]["shop"]
        for name in ("price_step", "price_ending", "minimum_order", "multiple_of"):
            channel.pop(name, None)
        order["request"]["quantity"] = 1
        found += misses_below(order, [{"margin_pct": 30}, {"markup_pct": 40}][seed % 2])
    assert found >= 40


@given(orders(), AIMS)
def test_a_solved_price_fed_back_as_a_given_one_gives_the_same_answer(
    order: Any, aim: dict[str, Any]
) -> None:
    def told(quote: Quote) -> Any:
        answer = msgspec.to_builtins(quote)
        flags = answer["at_quantity"]["flags"]
        # They speak of the price that is solved for and of its aim; there are none if it is given.
        answer["at_quantity"]["flags"] = [f for f in flags if f != "postage_pays_for_goods"]
        cautions = answer["cautions"]
        answer["cautions"] = [each for each in cautions if not each["says"].startswith("Request: ")]
        return answer

    solved = price(solved_for(order, aim))
    given_price = {"unit_price": str(solved.at_quantity.unit_price)}
    assert told(price(solved_for(order, given_price))) == told(solved)


@given(orders())
def test_twice_the_money_rates_are_twice_every_line(order: Any) -> None:
    twice = {
        "rates": doubled(order["rates"]),
        "request": order["request"] | {"product": doubled(order["request"]["product"])},
    }
    for once, double in zip(all_breaks(price(order)), all_breaks(price(twice)), strict=True):
        lines = lines_of(double)
        for line, amount in lines_of(once).items():
            pct = overhead_pct(order, line) if line in OVERHEADS else Decimal(0)
            within = Decimal("0.0002") * (1 + 12 * pct / 100)
            assert abs(2 * amount - lines[line]) <= within, line


def falls_by_one_unit_more(order: Any, quantity: int) -> Decimal:
    order["rates"]["channels"]["shop"].pop("multiple_of", None)
    for piece in order["request"]["product"]["pieces"]:
        for feed in piece["feed"]:
            feed.pop("charge", None)
    order["request"] |= {"quantity": quantity, "breaks": [quantity + 1]}
    quote = price(order)
    fallen = quote.at_quantity.cost.total - quote.breaks[0].cost.total
    overheads = sum((overhead_pct(order, line) for line in OVERHEADS), Decimal(0)) / 100
    assert fallen <= Decimal("0.0013") * (1 + overheads)
    return fallen


@given(orders(), st.one_of(st.integers(1, 500), st.integers(1, 9_999)))
def test_without_whole_packs_a_unit_more_never_costs_less(order: Any, quantity: int) -> None:
    falls_by_one_unit_more(order, quantity)


def test_a_unit_more_on_a_build_that_takes_the_same_however_full_often_costs_nothing() -> None:
    # Costs that hardly grow are where rounding could make them fall.
    same = 0
    for seed in SEEDS:
        order = drawn(Random(seed))
        pieces = order["request"]["product"]["pieces"]
        for piece in pieces:
            piece |= {"per_build_min": piece["print_min"], "pieces_per_build": 60}
            material = piece["feed"][0]["material"]
            piece["feed"] = [{"material": material, "mass_g": 9, "per_build_g": 9}]
        order["request"]["product"] = {"pieces": pieces}
        order["rates"]["channels"]["shop"].pop("packing", None)
        same += falls_by_one_unit_more(order, seed % 50 + 1) == 0
    assert same >= 200


def fails_never(order: Any) -> Any:
    """Let every build of an order come out good, by yields of 100 or in no time at all."""
    order = copy.deepcopy(order)
    for machine in order["rates"]["machines"].values():
        by_hours = "hours_between_failures" in machine
        machine["start_yield_pct" if by_hours else "first_pass_yield_pct"] = 100
    for material in order["rates"]["materials"].values():
        material["first_pass_yield_pct"] = 100
    for piece in order["request"]["product"]["pieces"]:
        piece.pop("first_pass_yield_pct", None)
        if "hours_between_failures" in order["rates"]["machines"][piece["machine"]]:
            piece |= {"print_min": 0, "per_build_min": 0}
    return order


def without_rejects(order: Any) -> Any:
    product = order["request"]["product"] | {"reject_pct": 0}
    return order | {"request": order["request"] | {"product": product}}


@given(orders())
def test_builds_that_never_fail_have_no_scrap(order: Any) -> None:
    for each in all_breaks(price(fails_never(order))):
        assert each.cost.scrap == 0
    for each in all_breaks(price(without_rejects(fails_never(order)))):
        assert each.use.build_starts == each.use.builds


@given(orders())
def test_without_rejected_units_there_are_no_rejects(order: Any) -> None:
    for each in all_breaks(price(without_rejects(order))):
        assert each.cost.rejects == 0


@given(orders(), st.integers(0, 400), st.integers(1, 200), st.integers(0, 300))
def test_without_learning_every_unit_takes_the_minutes_of_the_first(
    order: Any, tenths: int, until: int, before: int
) -> None:
    minutes = Decimal(tenths) / 10
    for nozzle in order["rates"]["nozzles"].values():
        nozzle["change_min"] = 0
    work = {"unit_min": str(minutes), "learning_pct": 100}
    order["request"]["product"]["work"] = work | {"learning_until": until, "made_before": before}
    rate = Decimal(str(order["rates"]["labour_rate_per_hour"]))
    for each in all_breaks(price(order)):
        with localcontext(prec=40):
            expected = (minutes * each.quantity * rate / 60).quantize(Decimal("1e-12"))
        assert each.cost.labour == expected.quantize(Decimal("1e-4"), ROUND_HALF_EVEN)


def shuffled(node: Any, random: Random) -> Any:
    """Put members and entries in another order, but for offers of which the first one counts."""
    if isinstance(node, dict):
        names = random.sample(list(node), len(node))
        first_counts = node.get("charging", "stock") == "stock" and "usual_pieces" not in node
        return {
            name: node[name] if name == "offers" and first_counts else shuffled(node[name], random)
            for name in names
        }
    if isinstance(node, list):
        return random.sample([shuffled(each, random) for each in node], len(node))
    return node


def told_without_rows(each: Break) -> Any:
    """Tell a break with its purchases summed: of equally good packs the first named are bought."""
    told = msgspec.to_builtins(each)
    packs: Counter[tuple[str, str]] = Counter()
    for row in told.pop("purchases"):
        bought = row.get("component") or row["material"]
        packs[bought, "packs"] += row["packs"]
        packs[bought, "left over"] += row["left_over"]
    return told, packs


@given(orders(), st.integers(0, 10**6))
def test_the_order_in_which_things_are_named_changes_nothing(order: Any, seed: int) -> None:
    mixed = shuffled(order, Random(seed))
    before, after = price(order), price(mixed)
    for one, other in zip(all_breaks(before), all_breaks(after), strict=True):
        assert told_without_rows(one) == told_without_rows(other)
    assumed = [sorted((b.basis, str(b.value)) for b in quote.basis) for quote in (before, after)]
    assert assumed[0] == assumed[1]


@given(orders(), st.integers(0, 10**6))
def test_a_feed_split_in_two_that_add_up_to_it_changes_nothing(order: Any, seed: int) -> None:
    random, split = Random(seed), copy.deepcopy(order)
    for piece in split["request"]["product"]["pieces"]:
        for first in list(piece["feed"]):
            second = first.copy()
            percent = random.randint(0, 100)
            for name in {"mass_g", "volume_cm3", "length_m", "per_build_g"} & set(first):
                whole = Decimal(str(first[name]))
                first[name] = whole * percent / 100
                second[name] = whole - first[name]
            # One entry that is charged by whole packs is enough for all of its material.
            random.choice([first, second, {}]).pop("charge", None)
            piece["feed"].insert(random.randint(0, len(piece["feed"])), second)
    for one, other in zip(all_breaks(price(order)), all_breaks(price(split)), strict=True):
        assert told_without_rows(one) == told_without_rows(other)


@given(
    st.integers(1, 1800),
    st.integers(10, 900),
    st.integers(500, 1000),
    st.sampled_from([0, 7, "9.5"]),
)
def test_the_two_failure_forms_agree_on_equal_chances_and_losses(
    minutes: int, hours: int, start: int, warm_up: Any
) -> None:
    order = copy.deepcopy(SIMPLE)
    machine = order["rates"]["machines"]["m"]
    machine |= {"warm_up_min": warm_up, "hours_between_failures": hours}
    machine["start_yield_pct"] = str(start / 10)
    order["request"]["product"]["pieces"][0]["print_min"] = minutes
    by_hours = price(order).at_quantity

    # x failures are expected in a build; one that fails while printing has, on average, come
    # to 1/x - 1/(e^x - 1) of it, and of all that fail (1 - e^-x) y / (1 - p) fail while printing.
    x = minutes / 60 / hours
    good = start / 1000 * math.exp(-x)
    while_printing = start / 1000 * -math.expm1(-x) / (1 - good)
    loss = (1 / x - 1 / math.expm1(x)) * while_printing
    del machine["hours_between_failures"], machine["start_yield_pct"]
    machine |= {
        "first_pass_yield_pct": f"{100 * good:.9f}",
        "loss_at_failure_pct": f"{100 * loss:.9f}",
    }
    by_yield = price(order).at_quantity
    assert by_hours.cost.scrap > 0
    for line, amount in lines_of(by_hours).items():
        assert abs(amount - lines_of(by_yield)[line]) <= Decimal("0.0002"), line
    assert abs(by_hours.use.build_starts - by_yield.use.build_starts) <= 0.0002


SIMPLE: Any = {
    "request": {
        "product": {
            "pieces": [
                {"machine": "m", "print_min": 60, "feed": [{"material": "pla", "mass_g": 100}]}
            ],
            "work": {"build_min": 3},
        },
        "quantity": 100,
        "channel": "shop",
        "aim": {"unit_price": 50},
    },
    "rates": {
        "currency": "EUR",
        "labour_rate_per_hour": 30,
        "price_per_kwh": "0.31",
        "materials": {"pla": {"price_per_kg": 20}},
        "machines": {"m": {"rate_per_hour": 1, "power_w": 120}},
        "channels": {"shop": {"prices_include_tax": False}},
    },
}


def test_the_least_that_margin_fees_and_tax_may_leave_still_finds_a_price() -> None:
    order = copy.deepcopy(SIMPLE)
    order["rates"]["channels"]["shop"] = {
        "prices_include_tax": True,
        "tax_rate_pct": 1000,
        "fee_per_order": "0.005",
        "postage": [{"up_to_units": 1, "cost": "0.005"}],
    }
    order["request"] |= {"quantity": 1, "aim": {"margin_pct": "98.9"}}
    order["request"]["product"] = {"design_fee": {"per_unit": "1.0049"}}
    each = price(order).at_quantity
    assert each.profit * 100 >= Decimal("98.9") * each.order_net

"""What must always hold, whatever the order (the properties of the costing rules)."""

import copy
from decimal import Decimal
from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gramhour.contract.answer import Break
from gramhour.contract.members import LARGEST
from tests.orders import all_breaks, orders, price

MONEY = {
    *("labour_rate_per_hour", "price_per_kwh", "price_per_kg", "list_price"),
    *("shipping_per_purchase", "price", "rate_per_hour", "replacement_price", "residual_value"),
    *("space_per_year", "maintenance_per_year", "per_unit", "one_off"),
}
OVERHEADS = ("material_overhead_pct", "production_overhead_pct", "admin_overhead_pct")
LINES = (
    *("feedstock", "components", "machine", "energy", "nozzle_wear", "labour", "scrap"),
    *("rejects", "packaging", "design", "material_overhead", "production_overhead"),
    "admin_overhead",
)


def lines_of(break_: Break) -> dict[str, Decimal]:
    return {line: getattr(break_.cost, line) for line in LINES}


def has_whole_packs(order: Any) -> bool:
    pieces = order["request"]["product"]["pieces"]
    return any("charge" in feed for piece in pieces for feed in piece["feed"])


def largest_money(node: Any) -> Decimal:
    if isinstance(node, dict):
        own = [Decimal(str(value)) for name, value in node.items() if name in MONEY]
        return max([*own, *(largest_money(value) for value in node.values())], default=Decimal(0))
    if isinstance(node, list):
        return max((largest_money(each) for each in node), default=Decimal(0))
    return Decimal(0)


def doubled(node: Any) -> Any:
    if isinstance(node, dict):
        return {
            name: str(2 * Decimal(str(value))) if name in MONEY else doubled(value)
            for name, value in node.items()
        }
    return [doubled(each) for each in node] if isinstance(node, list) else node


@given(orders())
def test_lines_add_up_and_what_the_buyer_pays_is_shared_out_to_the_last_digit(order: Any) -> None:
    for each in all_breaks(price(order)):
        assert sum(lines_of(each).values()) == each.cost.total
        assert each.order_net + each.order_tax == each.order_gross
        assert each.cost.total + each.fees.total + each.profit == each.order_net
        fees = each.fees
        parts = (fees.channel, fees.payment, fees.fixed, fees.postage, fees.design_share)
        assert sum(parts) == fees.total


def profit_at(order: Any, quantity: int, unit_price: Decimal) -> tuple[Decimal, Break]:
    asked = copy.deepcopy(order)
    asked["request"] |= {"aim": {"unit_price": str(unit_price)}, "quantity": quantity, "breaks": []}
    asked["request"].pop("discount_pct", None)
    each = price(asked).at_quantity
    return each.profit, each


def meets(aim: dict[str, Any], each: Break) -> bool:
    if "margin_pct" in aim:
        return each.profit * 100 >= Decimal(str(aim["margin_pct"])) * each.order_net
    return each.profit * 100 >= Decimal(str(aim["markup_pct"])) * each.cost.total


@given(orders(), st.one_of(st.integers(-50, 50), st.none()))
def test_a_solved_price_meets_its_aim_and_the_next_one_below_does_not(
    order: Any, margin: int | None
) -> None:
    order["request"]["aim"] = {"markup_pct": 60} if margin is None else {"margin_pct": margin}
    order["request"].pop("discount_pct", None)
    order["request"]["product"].pop("design_fee", None)
    each = price(order, explain=True).at_quantity
    aim = order["request"]["aim"]
    assert meets(aim, each)
    assert isinstance(each.explain, list)
    raw = next(e.value for e in each.explain if e.figure == "raw_unit_price")
    channel = order["rates"]["channels"]["shop"]
    digits = {"JPY": 0, "KWD": 3}.get(order["rates"]["currency"], 2)
    step = Decimal(str(channel.get("price_step", Decimal(1).scaleb(-digits))))
    ending = Decimal(str(channel.get("price_ending", 0)))
    assert each.unit_price >= raw
    assert (each.unit_price - ending) % step == 0
    below = each.unit_price - step
    if below > 0 and below >= raw:
        assert not meets(aim, profit_at(order, each.quantity, below)[1])
    _, fed_back = profit_at(order, each.quantity, each.unit_price)
    same = ("unit_price", "order_goods", "order_net", "order_tax", "order_gross", "cost", "fees")
    for figure in (*same, "profit", "margin_pct", "markup_pct", "contribution_per_machine_hour"):
        assert getattr(fed_back, figure) == getattr(each, figure)


@given(orders())
def test_twice_the_money_rates_are_twice_every_line(order: Any) -> None:
    assume(largest_money(order) <= LARGEST / 2)
    order["request"]["aim"] = {"unit_price": 10000}
    twice = {
        "rates": doubled(order["rates"]),
        "request": order["request"] | {"product": doubled(order["request"]["product"])},
    }
    once, double = price(order).at_quantity, price(twice).at_quantity
    overhead = {
        f"{name.removesuffix('_pct')}": Decimal(str(order["rates"].get(name, 0)))
        for name in OVERHEADS
    }
    for line, amount in lines_of(once).items():
        within = Decimal("0.0002") * (1 + 12 * overhead.get(line, Decimal(0)) / 100)
        assert abs(2 * amount - getattr(double.cost, line)) <= within, line


@given(orders(), st.integers(1, 500))
def test_one_unit_more_never_costs_less_in_all(order: Any, quantity: int) -> None:
    assume(not has_whole_packs(order))
    multiple = order["rates"]["channels"]["shop"].pop("multiple_of", 1)
    assert multiple >= 1
    order["request"] |= {"quantity": quantity, "breaks": [quantity + 1]}
    order["request"]["aim"] = {"unit_price": 10000}
    quote = price(order)
    overheads = Decimal(1)
    for name in OVERHEADS:
        overheads += Decimal(str(order["rates"].get(name, 0))) / 100
    fallen = quote.at_quantity.cost.total - quote.breaks[0].cost.total
    assert fallen <= Decimal("0.0013") * overheads


@given(orders())
def test_without_failures_rejects_or_learning_their_costs_are_nothing(order: Any) -> None:
    for machine in order["rates"]["machines"].values():
        for name in ("hours_between_failures", "start_yield_pct", "loss_at_failure_pct"):
            machine.pop(name, None)
        machine["first_pass_yield_pct"] = 100
    for material in order["rates"]["materials"].values():
        material["first_pass_yield_pct"] = 100
    product = order["request"]["product"]
    for piece in product["pieces"]:
        piece.pop("first_pass_yield_pct", None)
    product["reject_pct"] = 0
    product["work"] = {"unit_min": 6, "learning_pct": 100}
    each = price(order).at_quantity
    assert each.cost.scrap == 0
    assert each.cost.rejects == 0
    assert each.use.build_starts == each.use.builds
    changes = each.use.labour_min - 6 * each.quantity
    nozzles = order["rates"]["nozzles"].values()
    most = sum(float(n.get("change_min", 0)) for n in nozzles) * len(order["rates"]["machines"])
    assert -0.0001 <= changes <= most + 0.0001


@given(orders(), st.randoms(use_true_random=False))
def test_the_order_in_which_things_are_named_changes_no_cost_and_no_price(
    order: Any, random: Any
) -> None:
    def shuffled(node: Any) -> Any:
        if isinstance(node, dict):
            items = list(node.items())
            random.shuffle(items)
            return {name: shuffled(value) for name, value in items}
        if isinstance(node, list):
            return random.sample([shuffled(each) for each in node], len(node))
        return node

    for component in order["rates"]["components"].values():
        component.setdefault("usual_pieces", 7)  # else the first offer decides
    mixed = {"rates": shuffled(order["rates"]), "request": shuffled(order["request"])}
    for before, after in zip(all_breaks(price(order)), all_breaks(price(mixed)), strict=True):
        assert (before.cost, before.fees, before.profit) == (after.cost, after.fees, after.profit)
        assert (before.unit_price, before.flags) == (after.unit_price, after.flags)
        assert before.use == after.use


@given(orders(), st.integers(1, 99))
def test_a_feed_split_in_two_that_add_up_costs_the_same(order: Any, percent: int) -> None:
    split = copy.deepcopy(order)
    for piece in split["request"]["product"]["pieces"]:
        first = piece["feed"][0]
        by = next(name for name in ("mass_g", "volume_cm3", "length_m") if name in first)
        second = copy.deepcopy(first)
        for name in (by, "per_build_g"):
            if name in first:
                whole = Decimal(str(first[name]))
                first[name] = whole * percent / 100
                second[name] = whole - first[name]
        piece["feed"].append(second)
    for before, after in zip(all_breaks(price(order)), all_breaks(price(split)), strict=True):
        assert (before.cost, before.use, before.unit_price) == (
            *(after.cost, after.use, after.unit_price),
        )


@settings(max_examples=40)
@given(st.integers(1, 600), st.integers(20, 900), st.integers(50, 100))
def test_the_two_failure_forms_agree_on_equal_chances_and_losses(
    minutes: int, hours: int, start: int
) -> None:
    order = copy.deepcopy(SIMPLE)
    machine = order["rates"]["machines"]["m"]
    machine |= {"hours_between_failures": hours, "start_yield_pct": start}
    order["request"]["product"]["pieces"][0]["print_min"] = minutes
    by_hours = price(order).at_quantity

    machine.pop("hours_between_failures")
    machine.pop("start_yield_pct")
    starts = Decimal(str(by_hours.use.build_starts)) / by_hours.use.builds
    printed = Decimal(str(by_hours.use.feedstock_g["pla"])) / (100 * by_hours.use.builds)
    chance = 1 / starts
    loss = (printed - 1) / (starts - 1) if starts > 1 else Decimal(0)
    machine |= {
        "first_pass_yield_pct": f"{100 * chance:.9f}",
        "loss_at_failure_pct": f"{100 * loss:.9f}",
    }
    by_yield = price(order).at_quantity
    assert abs(by_hours.cost.scrap - by_yield.cost.scrap) <= Decimal("0.05")
    assert by_hours.cost.feedstock == by_yield.cost.feedstock


SIMPLE: Any = {
    "request": {
        "product": {
            "pieces": [
                {"machine": "m", "print_min": 60, "feed": [{"material": "pla", "mass_g": 100}]}
            ]
        },
        "quantity": 100,
        "channel": "shop",
        "aim": {"unit_price": 50},
    },
    "rates": {
        "currency": "EUR",
        "labour_rate_per_hour": 0,
        "price_per_kwh": 0,
        "materials": {"pla": {"price_per_kg": 20}},
        "machines": {"m": {"rate_per_hour": 1, "power_w": 0}},
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

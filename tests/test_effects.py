"""Which rate moved a price by how much, each effect computed apart: by quotes with sheets of ours.

A rate's effect is that of the old sheet with only that rate new, minus the old one; what remains
of the whole difference they cause together. The sheets are put together here, and each is quoted
as anybody may quote: a request that brings its own rates.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import change
from tests.http.door import Door, make_shop, opened, shop_with
from tests.http.repriced import (
    Figures,
    Sheet,
    all_priced,
    by_sku,
    demo_products,
    demo_sheet,
    describe,
    figures,
    list_prices,
    listed,
    minus,
    of_effect,
    only_line,
    quoted_as_listed,
    repriced,
    rows_listed,
    stock,
)

Rate = tuple[str, str]
NOTHING: Figures = (Decimal(0), Decimal(0))
POT: dict[str, Any] = {
    "name": "Herb pot",
    "pieces": [{"machine": "large", "nozzle": "n08", "print_min": "380",
                "feed": [{"material": "asa-green", "mass_g": "140"}]}],
    "components": [{"component": "wick", "count": "0.35"}],
    "work": {"unit_min": "4"},
}  # fmt: skip
HEAVIER: dict[str, Any] = {**POT, "work": {"unit_min": "6.5"}, "reject_pct": 3}
LISTED: dict[str, Any] = {
    "sku": "P-1", "product": "pot", "channel": "own-shop", "breaks": [1, 5, 10],
}  # fmt: skip


def with_rate(sheet: Sheet, kind: str, code: str, value: Any) -> Sheet:
    """Put one rate into a sheet."""
    if kind == "shop":
        return {**sheet, code: value}
    return {**sheet, kind: {**sheet[kind], code: value}}


def as_changes(rates: dict[Rate, Any]) -> list[dict[str, Any]]:
    """Send rates as changes."""
    return [{"kind": kind, "code": code, "value": value} for (kind, code), value in rates.items()]


OLD = demo_sheet()


def rate_with(kind: str, code: str, **members: Any) -> Any:
    """Take a rate of the demo's sheet with other members."""
    return {**OLD[kind][code], **members}


def offer_with(code: str, **members: Any) -> Any:
    """Take a filament of the demo's with other members of its offer."""
    return rate_with("materials", code, offer={**OLD["materials"][code]["offer"], **members})


LOWER_TIER = [{"from_packs": 3, "discount_pct": 4}, {"from_packs": 6, "discount_pct": "5.5"}]
THREE: dict[Rate, Any] = {
    ("materials", "asa-green"): offer_with("asa-green", tiers=LOWER_TIER),
    ("shop", "labour_rate_per_hour"): "34.75",
    ("channels", "own-shop"): rate_with("channels", "own-shop", payment_pct="2.9"),
}
MANY: dict[Rate, Any] = {
    **THREE,
    ("materials", "petg-clear"): offer_with("petg-clear", list_price="31.40"),
    ("materials", "pla-chalk"): rate_with("materials", "pla-chalk", price_per_kg="15.10"),
    ("machines", "large"): rate_with("machines", "large", hours_between_failures=90),
    ("machines", "small-1"): rate_with("machines", "small-1", usual_nozzle="n06"),
    ("nozzles", "n04"): rate_with("nozzles", "n04", price="9.90"),
    ("components", "elastic-cord"): rate_with("components", "elastic-cord", spare_pct=9),
    ("components", "carton"): {"offers": [{"pack_quantity": 20, "price": "31.00"}]},
    ("channels", "trade"): rate_with("channels", "trade", minimum_order=90, multiple_of=3),
    ("channels", "market"): rate_with("channels", "market", price_step="0.10", fee_pct=9),
    ("shop", "production_overhead_pct"): 15,
    ("shop", "default_breaks"): [1, 6],
}


class Split(NamedTuple):
    """A difference at one quantity: each rate alone, the description, and what remains."""

    alone: dict[Rate, Figures]
    description: Figures
    together: Figures

    def whole(self) -> Figures:
        parts = [*self.alone.values(), self.description, self.together]
        return sum((each[0] for each in parts), Decimal(0)), sum(
            (each[1] for each in parts), Decimal(0)
        )


def told(line_break: Any) -> Split:
    """Read how a line splits a difference; an effect of nothing is not told."""
    assert all(figures(each) != NOTHING for each in line_break["moved_by"])
    return Split(
        {(each["kind"], each["code"]): figures(each) for each in line_break["moved_by"]},
        of_effect(line_break.get("description")),
        of_effect(line_break.get("together")),
    )


def moved(line_break: Any) -> Figures:
    """Say by how much cost and price of a break moved."""
    before = line_break["unit_cost_before"], line_break["old_unit_price"]
    return minus(figures(line_break), (Decimal(before[0]), Decimal(before[1])))


def figures_apart(
    door: Door, row: dict[str, Any], products: Any, sheet: Sheet, **more: Any
) -> dict[int, Figures]:
    """Quote a listing by a sheet of ours at its breaks."""
    found = quoted_as_listed(door, row, products, row["breaks"], rates=sheet, **more)
    return {quantity: figures(each) for quantity, each in found.items()}


def rest(whole: Figures, parts: Sequence[Figures]) -> Figures:
    for part in parts:
        whole = minus(whole, part)
    return whole


def split_apart(
    door: Door, row: dict[str, Any], products: Any, rates: dict[Rate, Any]
) -> dict[int, Split]:
    """Split by hand what changes of rates make of a listing."""
    by_old, new = figures_apart(door, row, products, OLD), OLD
    alone: dict[Rate, dict[int, Figures]] = {}
    for (kind, code), value in rates.items():
        new = with_rate(new, kind, code, value)
        alone[kind, code] = figures_apart(door, row, products, with_rate(OLD, kind, code, value))
    by_new = figures_apart(door, row, products, new)
    splits = {}
    for n in row["breaks"]:
        effects = {rate: minus(each[n], by_old[n]) for rate, each in alone.items()}
        together = rest(minus(by_new[n], by_old[n]), [*effects.values()])
        seen = {rate: effect for rate, effect in effects.items() if effect != NOTHING}
        splits[n] = Split(seen, NOTHING, together)
    return splits


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """The demo's shop with prices; tests that save make their own."""
    path = all_priced(tmp_path_factory.mktemp("priced") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        yield door


@pytest.fixture
def own_shop(tmp_path: Path) -> Iterator[Door]:
    """The demo's rates, for one test alone."""
    with opened(Settings(store=make_shop(tmp_path / "gramhour.sqlite"))) as door:
        yield door


@pytest.fixture
def pot(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop with a pot that is listed and priced."""

    def sell(door: Door) -> None:
        describe(door, "pot", POT)
        listed(door, LISTED)
        list_prices(door)

    path = shop_with(tmp_path / "pot.sqlite", "a pot of which effects are told", sell)
    with opened(Settings(store=path)) as door:
        yield door


def apart(door: Door, product: Any, sheet: Sheet, **more: Any) -> dict[int, Figures]:
    """Quote the pot's listing by a sheet of ours, another product in its place."""
    return figures_apart(door, LISTED, {"pot": {"product": product}}, sheet, **more)


@pytest.mark.parametrize("rates", [THREE, MANY], ids=["three", "fourteen"])
def test_every_rates_effect_is_that_of_the_old_sheet_with_it_alone_new(
    priced: Door, rates: dict[Rate, Any]
) -> None:
    lines = by_sku(priced, repriced(priced, proposed=as_changes(rates), over="all")["id"])
    rows, products = rows_listed(priced), demo_products()
    assert lines.keys() == rows.keys()
    for sku, row in rows.items():
        expected = split_apart(priced, row, products, rates)
        for line_break in lines[sku]["breaks"]:
            split = told(line_break)
            assert split == expected[line_break["from_quantity"]], sku
            assert split.whole() == moved(line_break), sku


def test_the_three_changes_that_are_split_move_prices_alone_and_together(priced: Door) -> None:
    """So that the test above is one of something."""
    lines = by_sku(priced, repriced(priced, proposed=as_changes(THREE), over="all")["id"])
    splits = [told(each) for line in lines.values() for each in line["breaks"]]
    for rate in THREE:
        assert any(rate in split.alone for split in splits)
    assert any(len(split.alone) == len(THREE) for split in splits)
    assert any(split.together[0] for split in splits)
    assert any(split.together[1] for split in splits)
    assert not any(split.description != NOTHING for split in splits)


def test_saved_changes_are_split_as_proposed_ones_were(own_shop: Door) -> None:
    stock(own_shop)
    list_prices(own_shop)
    proposed = by_sku(own_shop, repriced(own_shop, proposed=as_changes(THREE))["id"])
    assert change(own_shop, *as_changes(THREE)).status_code == 201
    assert by_sku(own_shop, repriced(own_shop)["id"]) == proposed
    assert len(proposed) > 40


def test_a_rate_that_is_new_alone_accounts_for_all(pot: Door) -> None:
    rates = {("materials", "asa-green"): {"price_per_kg": "44"}}
    unused = {("materials", "pla-chalk"): {"price_per_kg": "1"}}
    line = only_line(pot, proposed=as_changes({**rates, **unused}))
    for line_break in line["breaks"]:
        split = told(line_break)
        assert split == Split({("materials", "asa-green"): moved(line_break)}, NOTHING, NOTHING)
        assert split.whole() != NOTHING


def test_a_change_of_the_description_is_computed_by_the_rates_of_then(pot: Door) -> None:
    rates = {("materials", "asa-green"): {"price_per_kg": "44"},
             ("shop", "labour_rate_per_hour"): "41.50"}  # fmt: skip
    describe(pot, "pot", HEAVIER)
    assert change(pot, *as_changes(rates)).status_code == 201
    line = only_line(pot)
    by_old, then = apart(pot, HEAVIER, OLD), apart(pot, POT, OLD)
    expected = split_apart(pot, LISTED, {"pot": {"product": HEAVIER}}, rates)
    assert [each["from_quantity"] for each in line["breaks"]] == LISTED["breaks"]
    for line_break in line["breaks"]:
        n, split = line_break["from_quantity"], told(line_break)
        described = minus(by_old[n], then[n])
        assert described[0] > 0
        assert split == expected[n]._replace(description=described)
        assert set(split.alone) == set(rates)
        assert split.whole() == moved(line_break)


def test_a_change_of_the_policy_is_one_of_the_description(pot: Door) -> None:
    dearer = {**LISTED, "aim": {"margin_pct": 50}}
    listed(pot, dearer)
    by_new, then = figures_apart(pot, dearer, {"pot": {"product": POT}}, OLD), apart(pot, POT, OLD)
    for line_break in only_line(pot)["breaks"]:
        n = line_break["from_quantity"]
        assert told(line_break) == Split({}, minus(by_new[n], then[n]), NOTHING)
        assert minus(by_new[n], then[n])[0] == 0
        assert minus(by_new[n], then[n])[1] > 0


def test_a_sale_is_an_effect_beside_that_of_the_rates_when_it_begins_and_ends(pot: Door) -> None:
    rates = {("shop", "labour_rate_per_hour"): "41.50"}
    dearer = with_rate(OLD, "shop", "labour_rate_per_hour", "41.50")
    assert change(pot, *as_changes(rates)).status_code == 201
    then, in_sale = apart(pot, POT, OLD), apart(pot, POT, OLD, discount_pct=20)
    now, now_in_sale = apart(pot, POT, dearer), apart(pot, POT, dearer, discount_pct=20)
    begins = only_line(pot, discount_pct=20)
    for line_break in begins["breaks"]:
        n = line_break["from_quantity"]
        alone = minus(now_in_sale[n], in_sale[n])
        expected = {("shop", "labour_rate_per_hour"): alone}
        assert told(line_break) == Split(expected, minus(in_sale[n], then[n]), NOTHING)
        assert figures(line_break) == now_in_sale[n]
    list_prices(pot, discount_pct=20)
    for line_break in only_line(pot)["breaks"]:
        n = line_break["from_quantity"]
        assert told(line_break) == Split({}, minus(now[n], now_in_sale[n]), NOTHING)


def test_a_rate_that_refers_to_another_new_one_causes_its_effect_together_with_it(
    pot: Door,
) -> None:
    packing = [{"component": "jute-bag", "per": "unit"}]
    rates = {
        ("components", "jute-bag"): {"offers": [{"pack_quantity": 10, "price": "17.00"}]},
        ("channels", "own-shop"): rate_with("channels", "own-shop", packing=packing),
        ("shop", "labour_rate_per_hour"): "41.50",
    }
    new = OLD
    for (kind, code), value in rates.items():
        new = with_rate(new, kind, code, value)
    dearer = with_rate(OLD, "shop", "labour_rate_per_hour", "41.50")
    then, now, alone = apart(pot, POT, OLD), apart(pot, POT, new), apart(pot, POT, dearer)
    line = only_line(pot, proposed=as_changes(rates))
    for line_break in line["breaks"]:
        n = line_break["from_quantity"]
        labour = minus(alone[n], then[n])
        together = minus(minus(now[n], then[n]), labour)
        expected = {("shop", "labour_rate_per_hour"): labour}
        assert told(line_break) == Split(expected, NOTHING, together)
        assert together[0] > 0


def test_what_could_not_be_made_by_the_rates_of_then_is_another_description(pot: Door) -> None:
    amber = {("materials", "petg-amber"): {"price_per_kg": "24.90"},
             ("shop", "labour_rate_per_hour"): "41.50"}  # fmt: skip
    assert change(pot, *as_changes(amber)).status_code == 201
    feed = [{"material": "petg-amber", "mass_g": "140"}]
    describe(pot, "pot", {**POT, "pieces": [{**POT["pieces"][0], "feed": feed}]})
    line = only_line(pot)
    assert line["outcome"] in ("up", "down")
    for line_break in line["breaks"]:
        assert told(line_break) == Split({}, moved(line_break), NOTHING)


def test_a_listing_without_a_price_has_nothing_that_moved_it(own_shop: Door) -> None:
    describe(own_shop, "pot", POT)
    listed(own_shop, LISTED)
    for line_break in only_line(own_shop)["breaks"]:
        assert told(line_break) == Split({}, NOTHING, NOTHING)
        assert line_break.keys().isdisjoint(
            {"old_unit_price", "unit_cost_before", "margin_if_kept_pct", "least_margin_if_kept_pct"}
        )

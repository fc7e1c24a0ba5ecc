"""What listings should cost: every line as a quote by itself, what it comes to, in which order."""

from collections.abc import Iterator
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import change
from tests.http.door import Door, make_shop, opened
from tests.http.four_pots import IN_SHOP, POT
from tests.http.repriced import (
    apply,
    by_sku,
    demo_products,
    describe,
    lines_of,
    list_prices,
    listed,
    only_line,
    quoted_as_listed,
    repriced,
    rows_listed,
    stock,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}
CHEAPER: dict[str, Any] = {**LABOUR, "value": "20"}
NO_LONGER = "the rates have no longer all that its product and channel name"
PRODUCTS = demo_products()
CHANNELS = ("own-shop", "market", "trade")
COUNTS = {"new", "up", "down", "unchanged", "held", "failed", "under_floor", "under_floor_if_kept"}


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """The demo's shop with its products and listings."""
    path = make_shop(tmp_path_factory.mktemp("stocked") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        stock(door)
        yield door


@pytest.fixture
def pots(own_shop: Door) -> Door:
    """The demo's shop with a pot."""
    describe(own_shop, "pot", POT)
    return own_shop


def seen(quote: Any) -> tuple[Any, ...]:
    return quote["unit_cost"], quote["unit_price"], quote["margin_pct"]


def quoted_apart(door: Door, row: dict[str, Any], **more: Any) -> dict[int, tuple[Any, ...]]:
    quotes = quoted_as_listed(door, row, PRODUCTS, row["breaks"], **more)
    return {n: seen(quote) for n, quote in quotes.items()}


def as_told(line: Any) -> dict[int, tuple[Any, ...]]:
    return {each["from_quantity"]: seen(each) for each in line["breaks"]}


def counted(**counts: int) -> dict[str, int]:
    return {**dict.fromkeys(COUNTS, 0), **counts}


# Every line as a quote by itself.


def test_every_lines_cost_price_and_margin_are_those_of_a_quote(stocked: Door) -> None:
    lines = by_sku(stocked, repriced(stocked, over="all")["id"])
    rows = rows_listed(stocked)
    assert lines.keys() == rows.keys()
    assert {row["channel"] for row in rows.values()} == set(CHANNELS)
    assert {row["product"] for row in rows.values()} == set(PRODUCTS)
    for sku, row in rows.items():
        assert as_told(lines[sku]) == quoted_apart(stocked, row), sku


def test_in_a_sale_they_are_those_of_a_quote_with_the_discount(stocked: Door) -> None:
    lines = by_sku(stocked, repriced(stocked, discount_pct="12.5")["id"])
    for sku, row in rows_listed(stocked).items():
        assert as_told(lines[sku]) == quoted_apart(stocked, row, discount_pct="12.5"), sku


def listings_drawn(random: Random, number: int) -> dict[str, dict[str, Any]]:
    """Draw listings of the demo's products on any channel, at multiples of what it sells."""
    variants: list[tuple[str, dict[str, str]]] = [(code, {}) for code in PRODUCTS] + [
        (code, {"variant": each["name"]})
        for code, entry in PRODUCTS.items()
        for each in entry["variants"]
    ]
    rows = {}
    for n in range(number):
        (product, variant), channel = random.choice(variants), random.choice(CHANNELS)
        multiple = 6 if channel == "trade" else 1
        breaks = random.sample(range(1, 121), random.randint(1, 5))
        aim: dict[str, Any] = random.choice([
            {}, {"aim": {"margin_pct": random.randint(-50, 55)}},
            {"aim": {"markup_pct": random.randint(-100, 300)}},
            {"aim": {"unit_price": random.choice(["0.01", "4.90", "250"])}},
        ])  # fmt: skip
        rows[f"D-{n:03}"] = {
            "product": product, "channel": channel,
            "breaks": sorted(each * multiple for each in breaks), **variant, **aim,
        }  # fmt: skip
    return rows


@pytest.mark.parametrize("seed", range(3))
def test_lines_of_drawn_listings_are_those_of_quotes(own_shop: Door, seed: int) -> None:
    stock(own_shop)
    rows = listings_drawn(Random(seed), 80)
    listed(own_shop, *({"sku": sku, **row} for sku, row in rows.items()))
    lines = by_sku(own_shop, repriced(own_shop, skus=[*rows])["id"])
    assert lines.keys() == rows.keys()
    for sku, row in rows.items():
        assert as_told(lines[sku]) == quoted_apart(own_shop, row), row


def test_a_listing_without_breaks_has_those_of_the_sheet_as_its_channel_sells(pots: Door) -> None:
    """The demo's are 1, 5, 10, 25, 50; trade sells sixes, so that 1 and 5 are both 6."""
    listed(pots, {"sku": "S", "product": "pot", "channel": "own-shop"},
           {"sku": "T", "product": "pot", "channel": "trade"})  # fmt: skip
    lines = by_sku(pots, repriced(pots)["id"])
    assert [*as_told(lines["S"])] == [1, 5, 10, 25, 50]
    assert [*as_told(lines["T"])] == [6, 12, 30, 54]


# What lines come to.


def test_a_line_is_new_up_down_or_unchanged(pots: Door) -> None:
    listed(pots, {"sku": "A", **IN_SHOP})
    assert only_line(pots)["outcome"] == "new"
    list_prices(pots)
    up, down = only_line(pots, proposed=[LABOUR]), only_line(pots, proposed=[CHEAPER])
    same = only_line(pots, over="all")
    assert (up["outcome"], down["outcome"], same["outcome"]) == ("up", "down", "unchanged")
    assert (same["change_pct"], [each["moved_by"] for each in same["breaks"]]) == ("0.00", [[], []])
    for line in (up, down):
        moves = [
            (Decimal(each["unit_price"]) / Decimal(each["old_unit_price"]) - 1) * 100
            for each in line["breaks"]
        ]
        largest: Decimal = max(moves, key=abs)
        assert Decimal(line["change_pct"]) == round(largest, 2)


def test_a_price_stays_if_every_break_would_move_by_less_than_is_worth_making(pots: Door) -> None:
    """The own shop's prices are whole euros and 0.90."""
    listed(pots, {"sku": "A", **IN_SHOP})
    list_prices(pots)
    line = only_line(pots, proposed=[LABOUR])
    moves = {
        Decimal(each["unit_price"]) - Decimal(each["old_unit_price"]) for each in line["breaks"]
    }
    least, most = min(moves), max(moves)
    assert 0 < least < most
    for least_change, outcome in ((least, "up"), (most, "up"), (most + 1, "unchanged")):
        listed(pots, {"sku": "A", **IN_SHOP, "least_change": str(least_change)})
        line = only_line(pots, proposed=[LABOUR])
        assert line["outcome"] == outcome
        assert Decimal(line["change_pct"]) > 0


def test_a_held_price_stays_and_is_told_what_it_would_be(pots: Door) -> None:
    listed(pots, {"sku": "A", **IN_SHOP}, {"sku": "B", **IN_SHOP})
    list_prices(pots)
    listed(pots, {"sku": "B", **IN_SHOP, "hold": True})
    assert change(pots, LABOUR).status_code == 201
    done = repriced(pots)
    lines = by_sku(pots, done["id"])
    assert (lines["A"]["outcome"], lines["B"]["outcome"]) == ("up", "held")
    assert as_told(lines["A"]) == as_told(lines["B"])
    assert done["counts"] == counted(up=1, held=1, under_floor_if_kept=0) | {
        name: done["counts"][name] for name in ("under_floor", "under_floor_if_kept")
    }
    assert apply(pots, done["id"])["applied"] == 1
    assert by_sku(pots, repriced(pots)["id"]).keys() == {"B"}


def test_a_held_listing_that_has_no_price_gets_its_first(pots: Door) -> None:
    listed(pots, {"sku": "A", **IN_SHOP, "hold": True})
    assert only_line(pots)["outcome"] == "new"


def test_what_cannot_be_priced_fails_and_says_why(pots: Door) -> None:
    listed(pots, {"sku": "A", **IN_SHOP}, {"sku": "M", **IN_SHOP, "channel": "market"},
           {"sku": "H", **IN_SHOP, "aim": {"margin_pct": "97"}})  # fmt: skip
    done = repriced(pots)
    assert done["counts"] == counted(new=2, failed=1, under_floor=done["counts"]["under_floor"])
    lines = lines_of(pots, done["id"])
    assert lines[0]["sku"] == "H"
    (fault,) = lines[0]["errors"]
    assert "97" in fault["detail"]
    assert (lines[0]["outcome"], lines[0]["breaks"]) == ("failed", [])
    assert "change_pct" not in lines[0]
    assert all("errors" not in line for line in lines[1:])
    assert apply(pots, done["id"])["applied"] == 2
    assert by_sku(pots, repriced(pots)["id"]).keys() == {"H"}


def test_proposed_rates_that_lack_what_a_listing_names_fail_it(pots: Door) -> None:
    listed(pots, {"sku": "A", **IN_SHOP}, {"sku": "M", **IN_SHOP, "channel": "market"})
    list_prices(pots)
    no_market = {"kind": "channels", "code": "market", "value": None}
    done = repriced(pots, proposed=[no_market])
    (line,) = lines_of(pots, done["id"], outcome="failed")
    assert line["sku"] == "M"
    assert line["errors"] == [{"detail": NO_LONGER, "pointer": ""}]


def test_floors_are_the_listings_own_before_its_channels(pots: Door) -> None:
    """The own shop's floor is 25 %, its aim here 20 % by the listing."""
    aim = {"margin_pct": 20}
    listed(pots, {"sku": "A", **IN_SHOP, "breaks": [1], "aim": aim},
           {"sku": "B", **IN_SHOP, "breaks": [1], "aim": aim, "margin_floor_pct": "-60"},
           {"sku": "C", **IN_SHOP, "breaks": [1]},
           {"sku": "D", **IN_SHOP, "breaks": [1], "margin_floor_pct": 60})  # fmt: skip
    done = repriced(pots)
    lines = by_sku(pots, done["id"])
    floors = {"A": 25, "B": -60, "C": 25, "D": 60}
    for sku, floor in floors.items():
        least = min(Decimal(each["least_margin_pct"]) for each in lines[sku]["breaks"])
        assert lines[sku]["under_floor"] is (least < floor)
        assert lines[sku]["under_floor_if_kept"] is False
    under = {sku for sku, line in lines.items() if line["under_floor"]}
    assert under == {"A", "D"}
    assert done["counts"] == counted(new=4, under_floor=2)
    apply(pots, done["id"])
    dearer = repriced(pots, proposed=[{**LABOUR, "value": "150"}])
    lines = by_sku(pots, dearer["id"])
    for sku, floor in floors.items():
        least = min(Decimal(each["least_margin_if_kept_pct"]) for each in lines[sku]["breaks"])
        assert lines[sku]["under_floor_if_kept"] is (least < floor)
    assert lines["C"]["under_floor_if_kept"] is True
    assert lines["C"]["under_floor"] is False
    if_kept = sum(line["under_floor_if_kept"] for line in lines.values())
    assert dearer["counts"] == counted(up=4, under_floor=2, under_floor_if_kept=if_kept)

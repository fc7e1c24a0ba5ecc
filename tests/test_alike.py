"""Listings that are alike are priced at once, and come out as each does by itself."""

from collections.abc import Iterator
from decimal import Decimal
from random import Random
from typing import Any

import numpy as np
import pytest
from msgspec import convert
from msgspec.structs import replace

from gramhour.contract.listing import Listing
from gramhour.contract.product import Product
from gramhour.contract.rates import RateSheet
from gramhour_service.calculation import arithmetic
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.listings.variants import rates_used
from gramhour_service.repricing.alike.columns import ToPrice
from gramhour_service.repricing.alike.grouped import lines_of
from gramhour_service.repricing.alike.many import Doubts, Many, column
from gramhour_service.repricing.alike.rounding import half_even, half_up
from gramhour_service.repricing.effects import Moved
from gramhour_service.repricing.evaluating import Makings, Offered
from gramhour_service.repricing.lines import Line, Listed, line_of
from gramhour_service.repricing.reported import reported
from gramhour_service.repricing.target import Target
from tests import demo

FLOATS = pytest.mark.parametrize("dtype", [np.float64, np.longdouble])
SOLD: list[dict[str, Any]] = [
    {"channel": "own-shop", "breaks": [1, 10, 50]},
    {"channel": "market", "breaks": [2, 3, 40], "aim": {"markup_pct": "80"}},
    {"channel": "market", "aim": {"unit_price": "19.90"}, "margin_floor_pct": "31"},
    {"channel": "trade", "breaks": [6, 48]},
]


def dearer(sheet: RateSheet) -> RateSheet:
    return replace(sheet, labour_rate_per_hour=Decimal("34.50"))


def target(sheet: RateSheet) -> Target:
    return Target(sheet, 1, "2026-12-01", {})


def drawn(value: Any, rng: Random) -> Any:
    """Draw other grams and minutes for a product as it is described."""
    if isinstance(value, list):
        return [drawn(each, rng) for each in value]
    if not isinstance(value, dict):
        return value
    other = {name: drawn(each, rng) for name, each in value.items()}
    for name in other.keys() & {"mass_g", "print_min", "unit_min"}:
        other[name] = str(Decimal(str(value[name])) * rng.randint(80, 140) / 100)
    return other


def offered(rng: Random) -> Iterator[Offered]:
    """Offer the demo's products with other numbers, on all channels."""
    for k, name in enumerate(demo.NAMES):
        for n in range(2):
            described = drawn(demo.request(name)["product"], rng)
            product = convert(described, Product, strict=False)
            for policy in (SOLD[k % 4], SOLD[(k + 1) % 4]):
                listing = convert({"product": f"{name}-{n}", **policy}, Listing, strict=False)
                sku = f"{name}-{n}-{policy['channel']}"
                yield Offered(sku, listing, product, rates_used(product), 1)


def both_ways(items: list[ToPrice], makings: Makings) -> list[Line]:
    """Price listings each by itself, and look that all at once are reported to the letter so."""
    alone = [line_of(item.offered, makings, item.listed) for item in items]
    assert lines_of(items, makings, fewest=1) == [reported(line) for line in alone]
    return alone


@pytest.mark.parametrize("minimum", [None, "60.00", "95.01"])
def test_lines_priced_at_once_are_those_of_each_by_itself(minimum: str | None) -> None:
    sheet = demo.sheet()
    if minimum is not None:
        assert isinstance(sheet.channels, dict)
        raised = {code: replace(channel, minimum_order=Decimal(minimum))
                  for code, channel in sheet.channels.items()}  # fmt: skip
        sheet = replace(sheet, channels=raised)
    makings, now = Makings(target(sheet)), Makings(target(dearer(sheet)))
    moved = Moved(target(sheet), now)
    new = [ToPrice(each, None) for each in offered(Random(5))]
    alone = both_ways(new, makings)
    assert sum(line.told.outcome == "new" for line in alone) > 30
    listed = [
        ToPrice(item.offered, Listed(line.prices, moved, is_as_described=True))
        for item, line in zip(new, alone, strict=True)
        if line.prices
    ]
    alone = both_ways(listed, now)
    assert sum(line.told.outcome == "up" for line in alone) > 15


def test_what_several_rates_and_another_description_moved_is_split_as_for_each_by_itself() -> None:
    sheet = demo.sheet()
    target_now = target(replace(dearer(sheet), price_per_kwh=Decimal("0.39")))
    makings = Makings(target_now)
    moved = Moved(target(sheet), makings)
    listed = []
    for n, each in enumerate([*offered(Random(7))][:12]):
        prices = line_of(each, moved.base, None).prices
        as_described = Listed(prices, moved, is_as_described=n % 2 == 0)
        listed.append(ToPrice(each, as_described if prices else None))
    alone = both_ways(listed, makings)
    moves = [each for line in alone for each in line.told.breaks if len(each.moved_by) == 2]
    assert len(moves) > 15


def test_products_are_alike_whose_full_builds_take_the_same_and_part_filled_ones_do_not() -> None:
    described = demo.request("seed-tray-labels")["product"]
    piece = described["pieces"][0]
    assert piece["pieces_per_build"] > 1
    items = []
    for minutes in ("2", "9"):
        pieces = [{**piece, "per_build_min": minutes}, *described["pieces"][1:]]
        product = convert({**described, "pieces": pieces}, Product, strict=False)
        listing = convert({"product": f"of-{minutes}", **SOLD[0]}, Listing, strict=False)
        items.append(
            ToPrice(Offered(f"L-{minutes}", listing, product, rates_used(product), 1), None)
        )
    alone = both_ways(items, Makings(target(demo.sheet())))
    assert [line.told.outcome for line in alone] == ["new", "new"]


def test_what_is_too_dear_only_beyond_its_last_break_is_a_line_that_says_so() -> None:
    dear = target(replace(demo.sheet(), labour_rate_per_hour=Decimal(10**9)))
    product = convert({"name": "A slow one", "work": {"unit_min": "600"}}, Product)
    policy = {"product": "slow", "channel": "own-shop", "breaks": [1, 45_000]}
    listing = convert(policy, Listing, strict=False)
    items = [
        ToPrice(Offered(f"S-{n}", listing, product, rates_used(product), 1), None) for n in (1, 2)
    ]
    alone = both_ways(items, Makings(dear))  # 45,000 cost 4.5 · 10^14, 89,999 too much
    assert [line.told.outcome for line in alone] == ["failed", "failed"]
    assert alone[0].told.errors
    assert "an amount of this order reaches 10^15" in alone[0].told.errors[0].detail


def test_rates_that_no_amount_has_room_for_are_a_line_that_says_so() -> None:
    dear = target(replace(demo.sheet(), admin_overhead_pct=Decimal(10**9)))
    items = [ToPrice(each, None) for each in offered(Random(5))][:4]
    alone = both_ways(items, Makings(dear))
    assert {line.told.outcome for line in alone} == {"failed"}


def several(dtype: Any, *amounts: str) -> Many:
    found = column([Decimal(amount) for amount in amounts], dtype, Doubts(len(amounts)))
    assert isinstance(found, Many)
    return found


@FLOATS
def test_a_tie_is_rounded_to_even_where_lines_are_and_up_where_prices_are(dtype: Any) -> None:
    ties = several(dtype, "0.00005", "0.00015", "-0.00025", "12.34565")
    assert half_even(ties, 4).whole(4).tolist() == [0, 2, -2, 123456]
    assert half_up(ties, 4).whole(4).tolist() == [1, 2, -3, 123457]
    assert not ties.doubts.mask.any()


@FLOATS
def test_what_is_a_tie_but_for_the_noise_of_a_division_is_one(dtype: Any) -> None:
    thirds = several(dtype, "1.00015", "1.00045") * 3 / 7 * 7 / 3
    assert half_even(thirds, 4).whole(4).tolist() == [10002, 10004]
    assert not thirds.doubts.mask.any()


@FLOATS
def test_a_tie_that_cannot_be_told_from_its_neighbours_is_left_open(dtype: Any) -> None:
    sevenths = several(dtype, "1.005", "1.007") * 3 / 7 * 7 / 3
    half_up(sevenths, 2)
    assert sevenths.doubts.mask.tolist() == [True, False]


@FLOATS
def test_drawn_amounts_are_rounded_as_decimals_or_left_open(dtype: Any) -> None:
    rng = Random(3)
    for _ in range(200):
        texts = [
            f"{rng.randint(1, 10 ** rng.randint(3, 9))}e-{rng.randint(0, 6)}" for _ in range(9)
        ]
        factor, divisor = Decimal(rng.randint(1, 999)) / 1000, Decimal(rng.choice([7, 8, 60, 119]))
        numbers = several(dtype, *texts)
        many = (numbers * factor / divisor + 1) * numbers
        with costing_arithmetic():
            exact = [(each * factor / divisor + 1) * each for each in map(Decimal, texts)]
            for rounds, as_it_is in (
                (half_even, arithmetic.half_even),
                (half_up, arithmetic.half_up),
            ):
                rounded = rounds(many, 4).whole(4)
                for n, amount in enumerate(exact):
                    if not many.doubts.mask[n] and abs(amount) < 10**10:
                        assert rounded[n] == as_it_is(amount, 4).scaleb(4)


def test_whether_there_is_any_of_many_amounts_is_not_one_question() -> None:
    with pytest.raises(TypeError, match="many numbers are not one"):
        bool(several(np.float64, "0", "7"))


@FLOATS
def test_equal_amounts_are_equal_and_near_ones_are_left_open(dtype: Any) -> None:
    margins, aims = several(dtype, "42.10", "7.35"), several(dtype, "4.21", "0.7350001")
    assert (margins >= aims * 10).tolist() == [True, False]
    assert not margins.doubts.mask.any()
    near = margins / 7 * 7
    assert (near >= margins).tolist() == [True, True]
    assert near.doubts.mask.all()

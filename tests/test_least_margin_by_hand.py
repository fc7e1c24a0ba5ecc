"""The least margin of a listed price: cases that anybody can follow, each computed by hand."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from gramhour.contract.rates import RateSheet
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from tests.http.door import Door, make_shop, opened
from tests.http.repriced import describe, listed, only_line
from tests.test_least_margin import Least, told

BOLTS: dict[str, Any] = {
    "currency": "EUR", "time_zone": "Europe/Vienna", "labour_rate_per_hour": 0,
    "price_per_kwh": 0, "material_overhead_pct": 0, "production_overhead_pct": 0,
    "admin_overhead_pct": 0,
    "components": {"bolt": {"charging": "order", "offers": [{"pack_quantity": 10, "price": "5"}]}},
    "channels": {
        "stall": {"prices_include_tax": False, "tax_rate_pct": 0, "margin_floor_pct": -10},
        "post": {"prices_include_tax": False, "tax_rate_pct": 0, "postage": [
            {"up_to_units": 3, "cost": 1, "charged": 0},
            {"up_to_units": 100, "cost": 20, "charged": 0},
        ]},
        "fours": {"prices_include_tax": False, "tax_rate_pct": 0, "multiple_of": 4},
        "least": {"prices_include_tax": False, "tax_rate_pct": 0, "minimum_order": 20},
        "least-in-fours": {
            "prices_include_tax": False, "tax_rate_pct": 0, "minimum_order": 70, "multiple_of": 4,
        },
        "bulk": {
            "prices_include_tax": False, "tax_rate_pct": 0, "minimum_order": 11_000,
            "fee_per_order": 600,
        },
        "paid": {"prices_include_tax": False, "tax_rate_pct": 0, "postage": [
            {"up_to_units": 3, "cost": 1, "charged": 2},
        ]},
    },
}  # fmt: skip
BOLT = {"name": "Bolt", "components": [{"component": "bolt"}]}


def bolt(**members: Any) -> dict[str, Any]:
    """List a bolt at 0.80."""
    aim = {"unit_price": "0.80"}
    return {"sku": "B", "product": "bolt", "channel": "stall", "aim": aim, **members}


@pytest.fixture
def stall(tmp_path: Path) -> Iterator[Door]:
    """A shop that sells bolts, ten of which cost 5.00 however many are needed, and nothing else."""
    sheet: RateSheet = sound_sheet(BOLTS)
    with opened(Settings(store=make_shop(tmp_path / "gramhour.sqlite", sheet))) as door:
        describe(door, "bolt", BOLT)
        yield door


def test_a_case_by_hand(stall: Door) -> None:
    """At 0.80 a bolt, in packs of ten for 5.00:

    n     paid   packs   cost   profit   margin
    1     0.80   1        5.00   −4.20   −525.00 %
    9     7.20   1        5.00    2.20     30.56 %
    10    8.00   1        5.00    3.00     37.50 %
    11    8.80   2       10.00   −1.20    −13.64 %   the first of the second pack
    19   15.20   2       10.00    5.20     34.21 %
    """
    listed(stall, bolt(breaks=[1, 10]))
    line = only_line(stall)
    assert [each["margin_pct"] for each in line["breaks"]] == ["-525.00", "37.50"]
    assert told(line) == [Least(Decimal("-525.00"), 1), Least(Decimal("-13.64"), 11)]


def test_the_last_stretch_goes_to_double(stall: Door) -> None:
    """By the table above, and on: 31 bolts are 24.80 for four packs, 4.80 or 19.35 %; of the
    stretches from 30 to 59 the first of each pack counts, 31 has the least."""
    listed(stall, bolt(breaks=[30]))
    assert told(only_line(stall)) == [Least(Decimal("19.35"), 31)]


def test_the_last_stretch_has_ten_units_at_least(stall: Door) -> None:
    """By post at 12.00 a bolt: 1 bolt is 12.00 − 5.00 − 1.00, 50.00 %; 4 no longer go as a letter,
    48.00 − 5.00 − 20.00 or 47.92 %; 10, the last of ten units, are one pack still, 79.17 %."""
    by_post = bolt(channel="post", aim={"unit_price": 12}, breaks=[1])
    listed(stall, by_post)
    assert told(only_line(stall)) == [Least(Decimal("47.92"), 4)]
    listed(stall, {**by_post, "breaks": [1, 4]})
    assert told(only_line(stall))[0] == Least(Decimal("50.00"), 1)


def test_postage_that_pays_makes_the_last_of_a_parcel_the_least(stall: Door) -> None:
    """A print to somebody's drawing, 0.70 a unit for it, 0.80 paid; a parcel of three costs 1.00
    and is charged 2.00. So 1 has 1.10 of 2.80 or 39.29 %, 2 have 1.20 of 3.60, 3 have 1.30 of 4.40
    or 29.55 %; 4 go in two parcels, 2.40 of 7.20 or 33.33 %."""
    describe(stall, "print", {"name": "Print", "design_fee": {"per_unit": "0.70"}})
    listed(stall, bolt(product="print", channel="paid", breaks=[1, 5]))
    assert told(only_line(stall))[0] == Least(Decimal("29.55"), 3)


def test_a_minimum_order_makes_the_first_beyond_it_the_least(stall: Door) -> None:
    """A bolt with somebody's mark, 3.00 a unit for it; orders are raised to 20.00 at least.

    At 6.00 a unit 1 leaves 12.00 of 20.00 or 60 %, 3 leave 6.00 or 30 %, 4 leave 7.00 of 24.00 or
    29.17 %, 9 leave 22.00 of 54.00. At 6.50, 4 leave 9.00 of 26.00, so that 3, the last
    ones raised, have the least. At 7.00, 2 are raised and leave 9.00 or 45 %, 3 leave 7.00 of 21.00
    or 33.33 %.
    """
    describe(stall, "marked", {**BOLT, "design_fee": {"per_unit": 3}})
    for price, pct, at in (("6.00", "29.17", 4), ("6.50", "30.00", 3), ("7.00", "33.33", 3)):
        aim = {"unit_price": price}
        listed(stall, bolt(product="marked", channel="least", breaks=[1, 10], aim=aim))
        assert told(only_line(stall))[0] == Least(Decimal(pct), at)


def test_the_last_stretch_goes_to_where_a_minimum_order_ceases(stall: Door) -> None:
    """At 1.35 a bolt and 20.00 an order at least, 15 are the first that are not raised: 20.25 for
    two packs, 50.62 %. Up to ten, which the stretch has, one pack leaves 15.00 of 20.00, 75 %; 14,
    the last ones raised, leave 10.00, 50 %."""
    listed(stall, bolt(channel="least", breaks=[1], aim={"unit_price": "1.35"}))
    assert told(only_line(stall)) == [Least(Decimal("50.00"), 14)]


def test_beyond_the_last_stretch_too_only_what_is_sold_is_looked_at(stall: Door) -> None:
    """In fours at 5.00, 70.00 an order at least, 3.00 a unit for a mark: the stretch from 4 has 12
    at most, raised and 24.00 of 70.00. 16, which are not, leave 22.00 of 80.00; 14 are not sold."""
    describe(stall, "marked", {**BOLT, "design_fee": {"per_unit": 3}})
    aim = {"unit_price": 5}
    listed(stall, bolt(product="marked", channel="least-in-fours", breaks=[4], aim=aim))
    assert told(only_line(stall)) == [Least(Decimal("27.50"), 16)]


def test_a_minimum_order_that_ceases_in_a_very_long_stretch_is_found(stall: Door) -> None:
    """At 5.00, 3.50 of it cost and 600.00 an order: of 1,100 to 4,999 the first thousand are looked
    at. 2,099 leave 3,053.00 of 11,000.00 or 27.75 %, 4,999 leave 6,898.00 of 24,995.00, 27.60 %;
    2,200, the first that are not raised, 2,700.00 of 11,000.00 or 24.55 %."""
    describe(stall, "marked", {**BOLT, "design_fee": {"per_unit": 3}})
    aim = {"unit_price": 5}
    listed(stall, bolt(product="marked", channel="bulk", breaks=[1_100, 5_000], aim=aim))
    assert told(only_line(stall))[0] == Least(Decimal("24.55"), 2_200)


def test_the_largest_order_is_the_last_that_is_looked_at(stall: Door) -> None:
    """Of 60,000 bolts and more 100,000 are ordered at most: 6,000 packs are 30,000.00, and one
    more bolt a pack more."""
    listed(stall, bolt(breaks=[60_000]))
    line = only_line(stall)
    assert line["breaks"][0]["least_margin_at"] == 60_001
    listed(stall, bolt(breaks=[100_000]))
    assert told(only_line(stall)) == [Least(Decimal("37.50"), 100_000)]
    listed(stall, bolt(channel="least", breaks=[1], aim={"unit_price": "0.00"}))
    assert told(only_line(stall)) == [Least(Decimal("-249900.00"), 100_000)]


def test_only_what_the_channel_sells_is_looked_at(stall: Door) -> None:
    """In fours from 12 on: 12 bolts are 9.60 for two packs, −4.17 %; 16 are 12.80, 20 are 16.00 for
    two packs still; 24 is beyond. 21, which three packs are needed for, is not sold."""
    listed(stall, bolt(channel="fours", breaks=[12]))
    assert told(only_line(stall)) == [Least(Decimal("-4.17"), 12)]
    listed(stall, bolt(channel="fours", breaks=[8, 20]))
    # 8 are 6.40 for one pack, 21.88 %; 12 have −4.17 %, 16 are 12.80 for 10.00.
    # 20 are 16.00 for two packs, 37.50 %; 24 are 19.20 for three, 21.88 %; 32 are 25.60 for four.
    assert told(only_line(stall)) == [Least(Decimal("-4.17"), 12), Least(Decimal("21.88"), 24)]


def test_a_floor_is_checked_against_the_least_margin(stall: Door) -> None:
    """The channel's floor is −10 %: 37.50 % at the break itself is above it, −13.64 % is not."""
    listed(stall, bolt(breaks=[10]))
    line = only_line(stall)
    assert (line["under_floor"], line["under_floor_if_kept"]) == (True, False)
    listed(stall, bolt(breaks=[10], margin_floor_pct="-13.64"))
    assert only_line(stall)["under_floor"] is False  # −13.636 % exactly
    listed(stall, bolt(breaks=[10], margin_floor_pct="-13.63"))
    assert only_line(stall)["under_floor"] is True


def test_a_price_for_which_nothing_is_paid_has_no_margin(stall: Door) -> None:
    listed(stall, bolt(breaks=[10]))
    line = only_line(stall, discount_pct=100)
    (only,) = line["breaks"]
    assert (only["unit_price"], only["margin_pct"], only["least_margin_pct"]) == (
        "0.00",
        None,
        None,
    )
    assert only["least_margin_at"] == 10

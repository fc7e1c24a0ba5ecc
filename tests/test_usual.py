"""Numbers that hardly any shop means as they stand are told to it with a remedy, never refused.

All limits are common practice, no source.
"""

from copy import deepcopy
from typing import Any

import pytest

from gramhour.contract.documents import parse_toml
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from tests import demo

LISTED = parse_toml((demo.FOLDER / "sheet.toml").read_bytes())


def told(path: str, value: Any, *, in_sheet: bool = True) -> list[str]:
    """Quote the demo's planter with one number changed, and say what the shop is told of it."""
    sent = {**deepcopy(demo.request("herb-planter")), "rates": deepcopy(LISTED)}
    at: Any = sent["rates"] if in_sheet else sent
    *steps, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    for step in steps:
        at = at[step]
    at[last] = value
    quote = answer_quote(sent)
    assert "unlikely size" not in {each.hazard for each in price_view(quote).cautions}
    return [each.says for each in quote.cautions if each.hazard == "unlikely size"]


@pytest.mark.parametrize("name", demo.NAMES)
def test_nothing_in_the_demo_is_told(name: str) -> None:
    cautions = answer_quote(demo.request(name), demo.sheet()).cautions
    assert [each.says for each in cautions if each.hazard == "unlikely size"] == []


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (
            "channels/own-shop/tax_rate_pct",
            "0.19",
            "Channel own-shop: tax_rate_pct is 0.19 %; 1 % or more is common. "
            "If 19 % is meant, write 19.",
        ),
        (
            "channels/own-shop/tax_rate_pct",
            190,
            "Channel own-shop: tax_rate_pct is 190 %; up to 50 is common. "
            "Check that this is per cent.",
        ),
        (
            "channels/own-shop/payment_pct",
            "0.029",
            "Channel own-shop: payment_pct is 0.029 %; 0.1 % or more is common. "
            "If 2.9 % is meant, write 2.9.",
        ),
        (
            "channels/own-shop/margin_breaks/1/margin_pct",
            "0.33",
            "Channel own-shop: margin_pct of margin_break 2 is 0.33 %; 1 % or more is common. "
            "If 33 % is meant, write 33.",
        ),
        (
            "materials/asa-green/offer/tiers/0/discount_pct",
            "0.04",
            "Material asa-green: discount_pct of tier 1 of offer is 0.04 %; 0.5 % or more is "
            "common. If 4 % is meant, write 4.",
        ),
        (
            "materials/petg-clear/first_pass_yield_pct",
            "0.985",
            "Material petg-clear: first_pass_yield_pct is 0.985 %; 2 % or more is common. "
            "If 98.5 % is meant, write 98.5.",
        ),
        (
            "materials/petg-clear/first_pass_yield_pct",
            "1.5",
            "Material petg-clear: first_pass_yield_pct is 1.5 %; 2 % or more is common. "
            "Check that this is per cent.",
        ),
        (
            "price_per_kwh",
            31,
            "A kilowatt hour costs 31 and a kilogram of asa-green 27.4: more than 200 g of it, "
            "where 5 to 50 g are common. Check that price_per_kwh is in the sheet's currency, not "
            "in cents, and the filament's price that of a kilogram.",
        ),
        (
            "materials/asa-green/offer/list_price",
            2_740,
            "A kilogram of asa-green costs 2740 and one of tpu-slate 39.8: more than 60 times "
            "apart. Check that both are for a kilogram (an offer for a pack of pack_g), not for a "
            "gram, and not in cents.",
        ),
        (
            "labour_rate_per_hour",
            "0.53",
            "An hour of work costs 0.53 and a kilowatt hour 0.31: less than 3 kWh, where 10 to 300 "
            "are common. Check that labour_rate_per_hour is for an hour, not a minute, and "
            "price_per_kwh not in cents.",
        ),
        (
            "machines/large/hours_between_failures",
            "1.3",
            "Machine large: hours_between_failures is 1.3 h; 4 h or more is common. "
            "Check that these are printing hours, from one failure to the next.",
        ),
        (
            "machines/large/life_years",
            54,
            "Machine large: life_years is 54 years; up to 15 is common. "
            "Check that these are years, not months.",
        ),
        (
            "materials/asa-green/density_g_cm3",
            1_070,
            "Material asa-green: density_g_cm3 is 1070 g/cm³; up to 10 is common. "
            "Check that these are g/cm³.",
        ),
        (
            "materials/asa-green/diameter_mm",
            "0.175",
            "Material asa-green: diameter_mm is 0.175 mm; 1 mm or more is common. "
            "Check that these are mm, of filament.",
        ),
        (
            "channels/own-shop/payment_pct",
            29,
            "Channel own-shop: payment_pct is 29 %; up to 20 is common. "
            "Check that this is per cent.",
        ),
        (
            "admin_overhead_pct",
            "0.06",
            "Shop: admin_overhead_pct is 0.06 %; 0.5 % or more is common. "
            "If 6 % is meant, write 6.",
        ),
    ],
)
def test_a_rate_that_is_hardly_meant_is_told(path: str, value: Any, says: str) -> None:
    assert told(path, value) == [says]


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (
            "aim/margin_pct",
            "0.4",
            "Request: margin_pct of aim is 0.4 %; 1 % or more is common. "
            "If 40 % is meant, write 40.",
        ),
        (
            "product/pieces/0/pieces_per_build",
            3_000,
            "Product: pieces_per_build of piece 1 is 3000 pieces; up to 1000 is common. "
            "Check that one plate holds so many.",
        ),
        (
            "product",
            {"work": {"unit_min": 0}},
            "Product: there are no pieces, components, work minutes or design_fee in it, so only "
            "the channel's costs make its price. Check that none is missing.",
        ),
        (
            "product/work/unit_min",
            1_500,
            "Product: unit_min of work is 1500 min; up to 960 is common. "
            "Check that these are minutes, a unit.",
        ),
        (
            "product/components/1/count",
            350,
            "Product: count of the component wick is 350 m in one unit; up to 200 is common. "
            "Check that it is in m, and of one unit.",
        ),
        (
            "product/components/0/count",
            2_000,
            "Product: count of the component float-gauge is 2000 pieces in one unit; up to 1000 "
            "is common. Check that it is in pieces, and of one unit.",
        ),
    ],
)
def test_a_description_that_is_hardly_meant_is_told(path: str, value: Any, says: str) -> None:
    assert told(path, value, in_sheet=False) == [says]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("channels/own-shop/payment_pct", "0.9"),
        ("channels/own-shop/tax_rate_pct", 0),
        ("channels/own-shop/tax_rate_pct", "2.6"),
        ("channels/own-shop/margin_floor_pct", -20),
        ("materials/asa-green/offer/rebate_pct", "0.5"),
        ("machines/large/start_yield_pct", 40),
        ("price_per_kwh", "0.95"),
        ("components/float-gauge/spare_pct", "0.5"),
        ("materials/asa-green", {"price_per_kg": 600, "density_g_cm3": "1.3", "diameter_mm": 3}),
        ("materials/asa-green", {"price_per_kg": 0, "density_g_cm3": "1.3", "diameter_mm": 3}),
        ("labour_rate_per_hour", "1.20"),
    ],
)
def test_what_a_small_shop_may_well_mean_is_not_told(path: str, value: Any) -> None:
    assert told(path, value) == []

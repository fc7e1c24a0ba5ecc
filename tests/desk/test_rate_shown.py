"""Rates are told to people in words and units, whatever stands in them."""

import pytest

from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.comparison_form import REQUEST as COMPARISON
from gramhour_service.pages.desk.places import place_said
from gramhour_service.pages.desk.rate_shown import rate_called, rate_place, rate_said


def test_a_rate_is_told_by_the_labels_of_its_form_and_with_units() -> None:
    rate = {
        "name": "ASA", "density_g_cm3": "1.07", "note": "dry it",
        "offer": {"pack_g": "1000", "list_price": "27.40", "delivery_working_days": 2,
                  "tiers": [{"from_packs": 3, "discount_pct": "4"},
                            {"from_packs": 6, "discount_pct": "8"}]},
    }  # fmt: skip
    assert rate_said(rate, "materials", "asa-green", "EUR") == [
        ("density", "1.07 g/cm3"),
        ("offer", "pack 1000 g, list price 27.40 EUR, delivery working days 2, "
                  "tiers from packs 3, discount 4 %; from packs 6, discount 8 %"),
    ]  # fmt: skip
    assert rate_said({"unattended": True}, "machines", "large", "EUR") == [("unattended", "yes")]


def test_a_rate_of_the_whole_shop_has_no_label() -> None:
    assert rate_said("32.00", "shop", "labour_rate_per_hour", "EUR") == [("", "32.00 EUR/h")]
    assert rate_called("shop", "price_per_kwh") == "price per kwh"
    assert rate_called("materials", "asa-green") == "asa-green"
    assert rate_said(["2026-12-24"], "shop", "closed_days", "EUR") == [("", "2026-12-24")]


def test_an_entry_of_a_list_is_named_by_what_it_is_one_of() -> None:
    assert rate_place("/2", "shop", "closed_days") == "closed day 3"
    assert place_said(REQUEST, "/breaks/1") == "break 2"
    assert place_said(COMPARISON, "/quantities/0") == "quantity 1"


def test_what_no_form_knows_is_told_as_it_stands() -> None:
    assert rate_said({"colour_code": 7}, "materials", "x", "EUR") == [("colour code", "7")]
    assert rate_place("/colour_code/0", "materials", "x") == "colour code, 0"


@pytest.mark.parametrize(
    ("pointer", "kind", "said"),
    [
        ("/offer/list_price", "materials", "offer, list price"),
        ("/offer/tiers/1/discount_pct", "materials", "offer, tier 2, discount"),
        ("/packing/0", "channels", "packing 1"),
        ("/materials/0", "services", "material 1"),
        ("", "shop", ""),
    ],
)
def test_a_member_that_changed_is_named_as_its_form_names_it(
    pointer: str, kind: str, said: str
) -> None:
    assert rate_place(pointer, kind, "price_per_kwh") == said

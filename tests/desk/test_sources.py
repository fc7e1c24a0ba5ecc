"""A number of a reason leads people to the field or the rate that it comes from."""

import pytest

from gramhour_service.pages.desk.sources import source_of


@pytest.mark.parametrize(
    ("pointer", "says", "unit", "place"),
    [
        ("/product/pieces/0/print_min", "piece 1, printing time", "min",
         "#at-product-pieces-0-print-min"),
        ("/product/work/order_min", "work, once an order", "min", "#at-product-work-order-min"),
        ("/quantity", "quantity", "", "#at-quantity"),
        ("/aim/margin_pct", "aim, margin", "%", "#at-aim-margin-pct"),
        ("/rates/labour_rate_per_hour", "labour rate per hour", "currency/h",
         "/desk/rates/shop/labour_rate_per_hour"),
        ("/rates/materials/asa-green/offer/tiers/1/discount_pct",
         "asa-green, offer, tier 2, discount", "%", "/desk/rates/materials/asa-green"),
        ("/rate_overrides/materials/x/price_per_kg", "rate overrides, materials, x, price per kg",
         "", ""),
    ],
)  # fmt: skip
def test_it_is_called_as_its_form_calls_it_and_linked(
    pointer: str, says: str, unit: str, place: str
) -> None:
    assert source_of(pointer) == (says, unit, place)

"""Products, listings and prices in which all that buyers do not see is a canary.

What they see is a sku, the listing's name, a channel that they name, and the prices themselves.
"""

from datetime import date
from pathlib import Path

import msgspec

from gramhour.contract.listing import ListingRow, ProductRow
from gramhour_service.listings.keeping import Ground, put_listing, put_product
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store, writing
from gramhour_service.store.prices import PriceChange, add_price
from tests.http.door import NOW

PIECE = {
    "name": "quetzal pot", "machine": "quetzal-left", "nozzle": "quetzal-n4", "count": 719356,
    "feed": [{"material": "quetzal-green", "mass_g": "71.9357", "per_build_g": "7.19358",
              "charge": "consumption"}],
    "print_min": "71.9359", "per_build_min": "7.19360", "pieces_per_build": 719361,
    "power_w": "7.19362",
}  # fmt: skip
BY_YIELD = {
    "machine": "quetzal-right", "print_min": "71.9363", "first_pass_yield_pct": "71.9364",
    "feed": [{"material": "quetzal-green", "volume_cm3": "71.9365"},
             {"material": "quetzal-green", "length_m": "71.9366"}],
}  # fmt: skip
SHAPED = {
    "machine": "quetzal-left", "material": "quetzal-green", "profile": "quetzal-fine",
    "geometry": {"volume_cm3": "71.9387", "area_cm2": "71.9388",
                 "box": {"x_mm": "71.9389", "y_mm": "71.9390", "z_mm": "71.9391"}},
}  # fmt: skip
PRODUCT = {
    "code": "quetzal-planter", "note": "quetzal & co wants these back",
    "product": {
        "name": "Planter as quetzal calls it", "pieces": [PIECE, BY_YIELD, SHAPED],
        "components": [{"component": "quetzal-gauge", "count": 719367, "per": "order"}],
        "work": {"order_min": "7.19368", "build_min": "7.19369", "unit_min": "7.19370",
                 "learning_pct": "71.9371", "learning_until": 7193, "made_before": 719372},
        "design_fee": {"per_unit": "7.19373", "one_off": "7.19374", "one_off_units": 719375,
                       "share_pct": "7.19376"},
        "reject_pct": "7.19377", "hazards": ["load-bearing"],
    },
    "variants": [{"name": "quetzal-resin", "materials": {"quetzal-green": "quetzal-blue"}}],
}  # fmt: skip
LISTING = {
    "sku": "HP-1", "name": "Herb planter", "product": "quetzal-planter",
    "variant": "quetzal-resin", "channel": "quetzal-market", "aim": {"margin_pct": "17.19378"},
    "breaks": [2, 10], "margin_floor_pct": "7.19379", "least_change": "7193.80", "hold": True,
    "note": "quetzal sells it for less",
}  # fmt: skip
AT_THE_FAIR = {
    **LISTING, "sku": "HP-2", "channel": "fair", "aim": {"markup_pct": "7193.81"},
}  # fmt: skip
BY_PRICE = {**LISTING, "sku": "HP-3", "aim": {"unit_price": "7193.82"}}
LISTINGS = [LISTING, AT_THE_FAIR, BY_PRICE]
WITHOUT_A_PRICE = {**AT_THE_FAIR, "sku": "A-quetzal"}
PLANNED_ONLY = {**AT_THE_FAIR, "sku": "HP-to-come"}
LATER = date(2026, 12, 7)
SEEN = {"sku", "channel", "name", "hazards", "breaks"}
WORDS_OF_THE_CONTRACT = {"charge", "per", "hold"}
BREAKS = [
    {"from_quantity": 2, "unit_price": "9.90", "unit_price_net": "8.2500", "unit_cost": "7.19383"},
    {"from_quantity": 10, "unit_price": "8.90", "unit_price_net": "7.4166", "unit_cost": "7.19384"},
]


def stock(path: Path) -> None:
    """Put the product, its listings and their prices into a store of the canaries' sheet."""
    store = open_store(path)
    today = Sheets(store).pinned(NOW)
    on = Ground(store, today.in_force.sheet, today.in_force.kept, today.on, Written("quetzal", NOW))
    with writing(store):
        product = msgspec.convert(PRODUCT, ProductRow)
        put_product(on, product.code, product)
        for row in LISTINGS:
            listing = msgspec.convert(row, ListingRow)
            put_listing(on, listing.sku, listing)
            for day in (today.on, LATER):
                add_price(store, _price(listing, day))
        without, planned = (
            msgspec.convert(row, ListingRow) for row in (WITHOUT_A_PRICE, PLANNED_ONLY)
        )
        for listing in (without, planned):
            put_listing(on, listing.sku, listing)
        add_price(store, _price(planned, LATER))
    store.close()


def _price(listing: ListingRow, day: date) -> PriceChange:
    return PriceChange(
        change=0,
        sku=listing.sku,
        effective_from=day.isoformat(),
        planned=0,
        channel=listing.channel,
        breaks=msgspec.json.encode(BREAKS).decode(),
        discount_pct="7.19385",
        under_floor=1,
        rates_revision=1,
        rates_on="2026-12-01",
        product_version=1,
        listing_version=1,
        rules="1",
        applied_at=NOW.isoformat(),
        applied_by="quetzal",
        note="as quetzal asked",
    )

"""A pot under four skus in the demo's own shop, each priced."""

from pathlib import Path
from typing import Any

from tests.http.door import Door, shop_with
from tests.http.repriced import describe, list_prices, listed, prices_of

POT: dict[str, Any] = {
    "name": "Herb pot",
    "pieces": [{"machine": "large", "nozzle": "n08", "print_min": "380",
                "feed": [{"material": "asa-green", "mass_g": "140"}]}],
    "work": {"order_min": 12, "unit_min": "4"},
}  # fmt: skip
IN_SHOP: dict[str, Any] = {"product": "pot", "channel": "own-shop", "breaks": [1, 10]}
SKUS = ("A", "B", "C", "D")


def four_pots(path: Path) -> Path:
    """Make a store of the demo's shop with them."""
    return shop_with(path, "a pot under four skus", _sell)


def _sell(door: Door) -> None:
    describe(door, "pot", POT)
    listed(door, *({"sku": sku, **IN_SHOP} for sku in SKUS))
    list_prices(door)


def all_prices(door: Door) -> dict[str, Any]:
    """Read what each costs by its quantities."""
    return {sku: prices_of(door, sku) for sku in SKUS}

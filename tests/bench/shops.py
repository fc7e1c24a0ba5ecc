"""Shops of any size for the benchmarks: invented products, filaments and listings."""

from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.material import Material
from gramhour.contract.rates import RateSheet
from gramhour_service.listings.keeping import Ground
from gramhour_service.listings.rows import SentRow, put_rows
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store
from tests import demo

FILAMENTS = 100
LISTINGS_OF_A_PRODUCT = 10
"""Five variants of each product, on two channels."""
BREAKS = [1, 10, 50]
AT_ONCE = 10_000
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)


def sheet() -> RateSheet:
    """Take the demo's rates with a hundred more filaments."""
    usual = demo.sheet()
    more = {filament(n): Material(price_per_kg=Decimal(20 + n % 17)) for n in range(FILAMENTS)}
    return replace(usual, materials={**usual.materials, **more})  # type: ignore[dict-item]


def filament(n: int) -> str:
    """Name a filament."""
    return f"filament-{n % FILAMENTS:02}"


def product_row(n: int) -> dict[str, Any]:
    """Describe a product of two pieces and two components, in a filament and four others."""
    first = filament(n)
    return {
        "code": f"product-{n}",
        "product": {
            "name": f"Planter {n}",
            "pieces": [
                {
                    "name": "pot",
                    "machine": "large",
                    "nozzle": "n08",
                    "pieces_per_build": 4,
                    "feed": [{"material": first, "mass_g": 200 + n % 191, "per_build_g": 4}],
                    "print_min": 300 + n % 211,
                    "per_build_min": 12,
                },
                {
                    "name": "reservoir",
                    "machine": "small-2",
                    "nozzle": "n06",
                    "pieces_per_build": 2,
                    "feed": [{"material": "petg-clear", "mass_g": 90 + n % 37, "per_build_g": 2}],
                    "print_min": 150 + n % 83,
                    "per_build_min": 5,
                },
            ],
            "components": [{"component": "float-gauge"}, {"component": "wick", "count": "0.35"}],
            "work": {"order_min": 4, "build_min": 3, "unit_min": 5, "learning_pct": 90},
        },
        "variants": [
            {"name": f"v{k}", "materials": {first: filament(n + k * 20)}} for k in range(1, 5)
        ],
    }


def listing_rows(n: int) -> Iterator[dict[str, Any]]:
    """List a product in each of its filaments on both channels."""
    for k in range(LISTINGS_OF_A_PRODUCT):
        variant = {"variant": f"v{k // 2}"} if k >= 2 else {}
        yield {
            "sku": f"P{n}-{k}",
            "product": f"product-{n}",
            "channel": ("own-shop", "market")[k % 2],
            "breaks": BREAKS,
            "aim": {"margin_pct": 35},
            "margin_floor_pct": 20,
            **variant,
        }


def open_shop(path: Path) -> tuple[Database, Ground]:
    """Make a store with the rates."""
    store = open_store(path, create=True)
    import_sheet(store, sheet(), now=NOW, made_by="bench")
    found = Sheets(store).pinned(NOW)
    in_force = found.in_force
    return store, Ground(store, in_force.sheet, in_force.kept, found.on, Written("bench", NOW))


def fill(ground: Ground, listings: int) -> None:
    """Import so many listings, and their products, a post's worth at a time."""
    products = listings // LISTINGS_OF_A_PRODUCT
    for first in range(0, products, AT_ONCE):
        numbers = range(first, min(first + AT_ONCE, products))
        put_rows(ground, "product", [SentRow(product_row(n)) for n in numbers], all_or_none=True)
    for first in range(0, products, AT_ONCE // LISTINGS_OF_A_PRODUCT):
        numbers = range(first, min(first + AT_ONCE // LISTINGS_OF_A_PRODUCT, products))
        rows = [SentRow(row) for n in numbers for row in listing_rows(n)]
        put_rows(ground, "listing", rows, all_or_none=True)

"""Small sound rate sheets, and the days and moments of the tests."""

from datetime import UTC, date, datetime
from typing import Any

from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.sheet import sound_sheet

TODAY = date(2026, 11, 25)
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def sheet(labour: Any = "30", **members: Any) -> RateSheet:
    """Make a sheet that says what an hour costs, and no more than what is told."""
    return sound_sheet(
        {"currency": "EUR", "labour_rate_per_hour": labour, "price_per_kwh": "0.31", **members}
    )


def filament(price: Any) -> dict[str, Any]:
    return {"price_per_kg": price}


def packed_in(component: str) -> dict[str, Any]:
    """Make a channel that packs every order in a component."""
    packing = [{"component": component, "count": 1, "per": "order"}]
    return {"prices_include_tax": False, "packing": packing}


def part(price: Any) -> dict[str, Any]:
    return {"offers": [{"price": price}]}

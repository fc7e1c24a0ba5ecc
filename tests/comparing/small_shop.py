"""A shop whose comparisons can be worked out by hand, and how the tests compare.

No tax, no fees, no work unless a test adds it: an order brings its price less filament and energy.
"""

from datetime import UTC, datetime
from typing import Any

from gramhour.contract.compared import Comparison
from gramhour_service.comparing.asked import sought
from gramhour_service.comparing.evaluating import evaluated
from gramhour_service.comparing.told import told

NOW = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
RATES: dict[str, Any] = {
    "currency": "EUR",
    "labour_rate_per_hour": "30.00",
    "price_per_kwh": "0.12",
    "materials": {
        "free": {"price_per_kg": 0},
        "twenty": {"price_per_kg": "20.00"},
        "ten": {"price_per_kg": "10.00"},
    },
    "nozzles": {"plain": {}, "bought": {"price": "40.00", "life_kg": 10}},
    "machines": {
        "old": {"rate_per_hour": "5.00", "power_w": 0},
        # Learning card 527603937 in the deck "BWH-Lernkartei" (machine-hour costing): 120 000
        # over 12 years, 5 % on half, 15 m² at 6 a month, upkeep 5 %, 1 500 hours a year.
        "new": {
            "replacement_price": 120_000, "life_years": 12, "interest_pct": 5,
            "space_per_year": 1_080, "maintenance_per_year": 6_000, "hours_per_year": 1_500,
            "power_w": 8_000,
        },
    },
    "channels": {
        "shop": {"prices_include_tax": False, "aim": {"markup_pct": 0}},
        "by-six": {"prices_include_tax": False, "aim": {"markup_pct": 0}, "multiple_of": 6},
    },
}  # fmt: skip
PIECE: dict[str, Any] = {
    "name": "body", "machine": "old", "nozzle": "plain", "print_min": 120,
    "feed": [{"material": "twenty", "mass_g": 1000}],
}  # fmt: skip
PROFILE: dict[str, Any] = {
    "layer_mm": "0.2", "bead_width_mm": "0.4", "outlines": 2, "solid_layers": 3, "fill_pct": 100,
    "speed_mm_s": 1000, "flow_limits": [{"flow_mm3_s": 10}],
}  # fmt: skip
WITH_PROFILES: dict[str, Any] = {
    "materials": {
        "dense": {"price_per_kg": "20.00", "density_g_cm3": 2},
        "light": {"price_per_kg": "20.00", "density_g_cm3": 1},
    },
    "profiles": {"fine": PROFILE, "twice": {**PROFILE, "flow_limits": [{"flow_mm3_s": 20}]}},
}
SHAPED: dict[str, Any] = {
    "machine": "old", "material": "dense", "profile": "fine",
    "geometry": {"volume_cm3": 36, "area_cm2": 90, "box": {"x_mm": 60, "y_mm": 60, "z_mm": 10}},
}  # fmt: skip
"""36 cm³ without gaps, at 10 mm³/s: an hour."""
TODAY = {"label": "today"}


def comparison(*alternatives: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Write a comparison of today's way with others, of one unit unless told."""
    return {
        "product": {"pieces": [PIECE]},
        "channel": "shop",
        "quantities": [1],
        "market_price": "50.00",
        "alternatives": [TODAY, *alternatives],
        "rates": RATES,
        **more,
    }


def compared(sent: Any) -> Comparison:
    """Compare, as every caller does, without a store."""
    asked = sought(lambda *_: None, NOW, sent)
    return told(asked, evaluated(asked, lambda _: None))

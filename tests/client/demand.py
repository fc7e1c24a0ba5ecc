"""What the client's tests ask for, and the moment at which they ask."""

from datetime import UTC, datetime
from typing import Any

from tests import demo

NOW = datetime(2026, 12, 1, 9, 30, tzinfo=UTC)
PLANTER: dict[str, Any] = demo.request("herb-planter")
NOZZLES: dict[str, Any] = demo.request("shop/compare-nozzles")
TIMED: dict[str, Any] = demo.request("shop/timed-builds")
MANY_WAYS: dict[str, Any] = {
    **NOZZLES,
    "quantities": [60],
    "criterion": "unit_cost",
    "up_to": 2_000,
    "alternatives": [*NOZZLES["alternatives"], *({"label": f"way {n}"} for n in range(5, 12))],
}
"""A comparison that is too large to be answered at once."""
ONE_PIECE: dict[str, Any] = {
    "product": {
        "pieces": [
            {
                "machine": "large",
                "print_min": 95,
                "feed": [{"material": "asa-green", "mass_g": "42.5"}],
            }
        ]
    },
    "quantity": 10,
    "breaks": [],
    "channel": "own-shop",
}


def now() -> datetime:
    return NOW

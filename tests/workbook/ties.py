"""Orders whose amounts stand exactly between two roundings, drawn on purpose.

Rates of 1, 60 and 1,000 let members reach the cost lines as they are, with a 5 in the fifth
decimal; shares such as 2.5 % put fees and tax halfway between two minor units.
"""

from random import Random
from typing import Any


def a_tie(random: Random, most: int) -> str:
    """Draw an amount with a 5 behind the fourth decimal."""
    return f"{random.randint(0, most)}.{random.randint(0, 9999):04d}5"


def drawn_ties(random: Random) -> Any:
    """Draw an order full of ties; odd quantities keep them."""
    quantity = random.choice([1, 3, 5, 7, 11, 25, 101])
    rates = {
        "currency": random.choice(["EUR", "JPY", "KWD"]),
        "labour_rate_per_hour": 60,
        "price_per_kwh": 1,
        "material_overhead_pct": random.choice([0, 50, "12.5"]),
        "production_overhead_pct": random.choice([0, 50, "2.5"]),
        "admin_overhead_pct": random.choice([0, 50, "0.5"]),
        "materials": {"wire": {"price_per_kg": 1000}},
        "machines": {"m": {"rate_per_hour": 60, "power_w": 1000, "warm_up_kwh": a_tie(random, 0)}},
        "components": {"part": {"offers": [{"price": a_tie(random, 9), "pack_quantity": 1}]}},
        "channels": {
            "shop": {
                "prices_include_tax": random.random() < 0.5,
                "tax_rate_pct": random.choice([5, "2.5", 60, 0]),
                "fee_pct": random.choice(["2.5", "0.5", 5]),
                "payment_pct": random.choice(["2.5", "1.25", 10]),
                "fee_per_order": random.choice(["0.005", "0.015", "0.5", "1.0005"]),
                "postage": [
                    {"up_to_units": 1000, "cost": random.choice(["2.005", "3.5", "0.0025"])}
                ],
                "aim": {"markup_pct": random.choice([0, 25, 50])},
            }
        },
    }
    piece = {
        "machine": "m",
        "print_min": random.randint(1, 300),
        "feed": [{"material": "wire", "mass_g": a_tie(random, 99)}],
    }
    request: dict[str, Any] = {
        "product": {
            "pieces": [piece],
            "components": [{"component": "part"}],
            "work": {"unit_min": a_tie(random, 9), "order_min": a_tie(random, 9)},
            "design_fee": {"per_unit": a_tie(random, 2), "share_pct": random.choice([0, "2.5"])},
        },
        "quantity": quantity,
        "breaks": [1, 9],
        "channel": "shop",
    }
    if random.random() < 0.5:
        request["aim"] = {"unit_price": random.randint(100, 900)}
    if random.random() < 0.3:
        request["discount_pct"] = random.choice(["2.5", "0.5", 5])
    return {"rates": rates, "request": request}

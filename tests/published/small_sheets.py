"""The smallest sheets and products that a published figure fits into, and their prices.

What is published is one rule at a time, so all that a figure does not speak of is left out.
"""

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from gramhour.contract.answer import Break
from gramhour_service.answer.quoting import answer_quote

AT_COST = {"margin_pct": 0}


def priced(
    product: dict[str, Any],
    *,
    quantity: int = 1,
    aim: dict[str, Any] | None = None,
    discount_pct: Any = 0,
    currency: str = "EUR",
    channel: dict[str, Any] | None = None,
    **sheet: Any,
) -> Break:
    """Price a product on a sheet that says no more than what is told; at cost unless told."""
    rates = {
        "currency": currency,
        "labour_rate_per_hour": 0,
        "price_per_kwh": 0,
        "channels": {"shop": {"prices_include_tax": False, **(channel or {})}},
        **sheet,
    }
    sent = {
        "product": product,
        "quantity": quantity,
        "channel": "shop",
        "aim": aim or AT_COST,
        "discount_pct": discount_pct,
        "rates": rates,
    }
    return answer_quote(sent).at_quantity


def costing(amount: str) -> dict[str, Any]:
    """Describe a product of which all that matters is what a unit costs."""
    return {"design_fee": {"per_unit": amount}}


def printed(minutes: Any = 60, **feed: Any) -> dict[str, Any]:
    """Describe one piece on the machine ``m``, of the material ``fil`` unless told."""
    fed = {"material": "fil", **(feed or {"mass_g": 0})}
    return {"pieces": [{"machine": "m", "feed": [fed], "print_min": minutes}]}


def on_machine(**members: Any) -> dict[str, Any]:
    """Make the rates of a machine ``m`` and of a filament that costs nothing."""
    machine = {"power_w": 0, **members}
    if "hours_per_year" not in machine:
        machine.setdefault("rate_per_hour", 0)
    return {"machines": {"m": machine}, "materials": {"fil": {"price_per_kg": 0}}}


def as_printed(amount: Decimal | float, places: int) -> Decimal:
    """Round as publications do: half up, to so many decimals."""
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(amount))
    return exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)

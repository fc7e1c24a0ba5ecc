"""The rough look overlooks no least margin: it is held against every quantity that is looked at."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from gramhour.contract.reading import read_request
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.breaks import costs_at, settled_at
from gramhour_service.calculation.builds import builds_of_product
from gramhour_service.calculation.job import Channel, Job, ShopRates
from gramhour_service.calculation.rough import RoughCurve
from gramhour_service.calculation.rough_orders import Kept
from gramhour_service.calculation.stretch import Stretch, counts_at
from gramhour_service.resolve.request import resolve
from tests import demo

SHOPS: dict[str, dict[str, Any]] = {
    "as the demo's": {},
    "a fee of a quarter cent a unit, and a least order": {
        "channel": {"fee_per_unit": Decimal("0.0024"), "minimum_order": Decimal(150)}
    },
    "overheads of thousands of per cent": {
        "rates": {
            "material_overhead_pct": Decimal(900),
            "production_overhead_pct": Decimal(4000),
            "admin_overhead_pct": Decimal(1500),
        }
    },
    "a currency without minor units": {"rates": {"minor_digits": 0}},
    "a currency with three": {"rates": {"minor_digits": 3}},
}
PRICES = (Decimal(3), Decimal(19), Decimal(120))
STRETCHES = (range(1, 12), range(10, 60), range(60, 200, 6), range(1, 900, 30))


def job_of(name: str, shop: dict[str, Any]) -> Job:
    sheet = demo.sheet()
    job = resolve(read_request(demo.request(name), sheet), sheet).job
    channel: Channel = replace(job.channel, **shop.get("channel", {}))
    rates: ShopRates = replace(job.rates, **shop.get("rates", {}))
    return replace(job, channel=channel, rates=rates)


@pytest.mark.parametrize("shop", SHOPS.values(), ids=list(SHOPS))
@pytest.mark.parametrize("name", demo.NAMES)
def test_no_least_margin_is_overlooked(name: str, shop: dict[str, Any]) -> None:
    with costing_arithmetic():
        job = job_of(name, shop)
        made, kept = builds_of_product(job.product, job.rates), Kept()
        rough = RoughCurve(made, kept)
        for quantities in STRETCHES:
            first = costs_at(job, made, quantities[0]).lines.total
            stretch = Stretch(job, made, quantities, rough, {}, first)
            for price in PRICES:
                least = stretch.least_margin(lambda _, price=price: price)  # type: ignore[misc]
                assert least is not None
                looked_at = [
                    quantity
                    for n, quantity in enumerate(quantities)
                    if n in (0, len(quantities) - 1)
                    or counts_at(job, made, quantity) != counts_at(job, made, quantities[n - 1])
                ]
                margins = {}
                for quantity in looked_at:
                    cost = costs_at(job, made, quantity).lines.total
                    settled = settled_at(job, quantity, cost, price)
                    margins[quantity] = settled.profit / settled.net
                lowest = min(margins.values())
                assert least.profit / least.net == lowest
                assert least.quantity == min(q for q, m in margins.items() if m == lowest)

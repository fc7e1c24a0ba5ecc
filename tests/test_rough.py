"""The rough look overlooks no least margin: it is held against every quantity that is looked at."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from gramhour.contract.reading import read_request
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.breaks import costs_at, settled_at
from gramhour_service.calculation.builds import builds_of_product
from gramhour_service.calculation.job import Channel, Job, ShopRates
from gramhour_service.calculation.stretch import counts_at
from gramhour_service.repricing.evaluating import Making, Sold
from gramhour_service.repricing.least import Shown, least_margins
from gramhour_service.repricing.rough import RoughCosts, shared_by, weights_of
from gramhour_service.repricing.selling import Selling, shape_of
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
SOLD = (((1, 10, 60), 1), ((1, 12), 1), ((6, 60, 120), 6), ((30, 900), 30))
"""Breaks, and of how many units the channel sells multiples."""


def job_of(name: str, shop: dict[str, Any]) -> Job:
    sheet = demo.sheet()
    job = resolve(read_request(demo.request(name), sheet), sheet).job
    channel: Channel = replace(job.channel, **shop.get("channel", {}))
    rates: ShopRates = replace(job.rates, **shop.get("rates", {}))
    return replace(job, channel=channel, rates=rates)


def making_of(job: Job) -> Making:
    builds = builds_of_product(job.product, job.rates)
    rough = RoughCosts(builds, shared_by(job.rates))
    return Making(job.product, builds, shape_of(builds), rough, {})


def looked_at(counted: dict[int, Any]) -> Iterator[int]:
    """List both ends, and the quantities beside which what is counted changes."""
    counts = [*counted.values()]
    for n, quantity in enumerate(counted):
        if n in (0, len(counts) - 1) or not counts[n - 1] == counts[n] == counts[n + 1]:
            yield quantity


def beyond_the_last(last: int, multiple: int, price: Decimal, minimum: Decimal) -> list[int]:
    """List the two quantities beyond between which orders cease to be raised to a minimum."""
    quantity = last
    while price * quantity < minimum:
        quantity += multiple
    return [q for q in (quantity - multiple, quantity) if q > last]


def margin(job: Job, quantity: int, cost: Decimal, price: Decimal) -> Decimal:
    settled = settled_at(job, quantity, cost, price)
    return settled.profit / settled.net


@pytest.mark.parametrize("shop", SHOPS.values(), ids=list(SHOPS))
@pytest.mark.parametrize("name", demo.NAMES)
def test_no_least_margin_is_overlooked(name: str, shop: dict[str, Any]) -> None:
    with costing_arithmetic():
        job = job_of(name, shop)
        making, minimum = making_of(job), job.channel.minimum_order
        for breaks, multiple in SOLD:
            selling = Selling(replace(job, breaks=breaks), multiple, weights_of(job.rates))
            sold, stretches = Sold(selling, making), selling.stretches
            cost = cache(lambda q: costs_at(job, making.builds, q).lines.total)
            counts = [
                {
                    q: counts_at(job, making.builds, q)
                    for q in stretches.quantities[s.start : s.stop]
                }
                for s in stretches.spans
            ]
            for price in PRICES:
                found = least_margins(sold, Shown(breaks, [price] * len(breaks)))
                beyond = beyond_the_last(stretches.quantities[-1], multiple, price, minimum)
                also = [*[[]] * (len(counts) - 1), beyond]
                for least, counted, more in zip(found, counts, also, strict=True):
                    raised = {q: (n, price * q < minimum) for q, n in counted.items()}
                    seen = [*looked_at(raised), *more]
                    margins = {q: margin(job, q, cost(q), price) for q in seen}
                    lowest = min(margins.values())
                    assert least is not None
                    assert least.profit / least.net == lowest
                    assert least.quantity == min(q for q, m in margins.items() if m == lowest)


def test_a_price_of_other_breaks_is_looked_at_from_its_first_on() -> None:
    """Listed from 5 and from 12 on, where the breaks are now 1, 10 and 50."""
    with costing_arithmetic():
        job = job_of("herb-planter", {})
        making = making_of(job)
        selling = Selling(replace(job, breaks=(1, 10, 50)), 1, weights_of(job.rates))
        shown = Shown((5, 12), (Decimal(30), Decimal(20)))
        found = least_margins(Sold(selling, making), shown)
        assert found[0] is None
        for least, quantities in zip(found[1:], (range(10, 50), range(50, 100)), strict=True):
            prices = {q: Decimal(30 if q < 12 else 20) for q in quantities}
            counts = {q: (counts_at(job, making.builds, q), prices[q]) for q in quantities}
            lowest = min(
                margin(job, q, costs_at(job, making.builds, q).lines.total, prices[q])
                for q in looked_at(counts)
            )
            assert least is not None
            assert least.profit / least.net == lowest

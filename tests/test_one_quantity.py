"""One quantity asked for alone, as a repricing does, comes to what the whole quote says of it."""

from typing import Any

import pytest
from hypothesis import given

from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.breaks import costs_at, price_at, quote, settled_at
from gramhour_service.calculation.builds import builds_of_product
from gramhour_service.calculation.settle import unit_cost
from gramhour_service.resolve.request import resolve
from gramhour_service.resolve.sheet import sound_sheet
from tests import demo
from tests.orders import orders


def check_alone_as_in_the_quote(sent: Any, sheet: RateSheet) -> None:
    with costing_arithmetic():
        job = resolve(read_request(sent, sheet), sheet).job
        made = builds_of_product(job.product, job.rates)
        whole = quote(job)
        for each in (flagged.priced for flagged in reversed((whole.at_quantity, *whole.breaks))):
            cost = costs_at(job, made, each.quantity).lines.total
            assert unit_cost(cost, each.quantity) == each.unit_cost
            assert price_at(job, each.quantity, cost) == each.priced
            settled = each.priced.settled
            assert settled_at(job, each.quantity, cost, settled.unit_price) == settled


@pytest.mark.parametrize("name", demo.NAMES)
def test_a_demo_quantity_alone_comes_to_what_the_quote_says(name: str) -> None:
    check_alone_as_in_the_quote(demo.request(name), demo.sheet())


@given(orders())
def test_a_drawn_quantity_alone_comes_to_what_the_quote_says(order: Any) -> None:
    check_alone_as_in_the_quote(order["request"], sound_sheet(order["rates"]))

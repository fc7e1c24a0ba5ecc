"""What was resolved of a sheet for one request serves the next, and changes no answer."""

from decimal import Decimal
from typing import Any

from hypothesis import given

from gramhour.contract.reading import read_request
from gramhour_service.answer.quoting import answer_request
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.orders import MOST_QUANTITIES
from gramhour_service.resolve import described
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import resolve
from gramhour_service.resolve.sheet import sound_sheet
from tests import demo
from tests.orders import orders


@given(orders())
def test_a_second_request_is_answered_as_the_first(order: Any) -> None:
    sheet = sound_sheet(order["rates"])
    request = read_request(order["request"], sheet)
    fresh = answer_request(request, sheet)
    kept: Kept = {}
    assert [answer_request(request, sheet, kept=kept) for _ in range(2)] == [fresh, fresh]
    assert kept


def test_requests_of_other_products_share_what_is_kept() -> None:
    kept: Kept = {}
    for name in [*demo.NAMES, *reversed(demo.NAMES)]:
        request = read_request(demo.request(name), demo.sheet())
        told = answer_request(request, demo.sheet(), kept=kept)
        assert told == answer_request(request, demo.sheet())


def test_overrides_and_own_rates_neither_use_nor_change_what_is_kept() -> None:
    kept: Kept = {}
    sent = demo.request("herb-planter")
    answer_request(read_request(sent, demo.sheet()), demo.sheet(), kept=kept)
    before = dict(kept)
    dearer = {**sent, "rate_overrides": {"labour_rate_per_hour": Decimal(64)}}
    request = read_request(dearer, demo.sheet())
    told = answer_request(request, demo.sheet(), kept=kept)
    assert told == answer_request(request, demo.sheet())
    assert told.at_quantity.cost.labour == 2 * (
        answer_request(read_request(sent, demo.sheet()), demo.sheet()).at_quantity.cost.labour
    )
    assert kept == before


def test_a_workload_is_told_as_each_request_wrote_it() -> None:
    kept: Kept = {}
    machine = demo.request("herb-planter")["product"]["pieces"][0]["machine"]
    for written in ("2.0", "2"):
        workload = {"machines": {machine: {"queue_h": [Decimal(written)]}}}
        asked = asked_of("herb-planter", workload=workload, **{"from": "2026-12-01T08:00:00+01:00"})
        told = answer_request(asked, demo.sheet(), kept=kept).lead_time
        assert told
        assert [str(hours) for hours in told.workload.machines[machine].queue_h] == [written]


def asked_of(name: str, **more: Any) -> Any:
    return read_request({**demo.request(name), **more}, demo.sheet())


def test_a_product_described_again_is_resolved_once_whatever_else_is_asked() -> None:
    kept: Kept = {}
    asked = [
        asked_of("herb-planter", quantity=quantity, aim={"markup_pct": markup})
        for quantity, markup in ((3, 50), (40, 50), (3, 80))
    ]
    orders = [resolve(each, demo.sheet(), kept=kept).orders for each in asked]
    assert orders[0] is orders[1] is orders[2]
    for each in asked:
        assert answer_request(each, demo.sheet(), kept=kept) == answer_request(each, demo.sheet())


def test_a_product_on_another_channel_or_described_otherwise_is_another_one() -> None:
    kept: Kept = {}
    product = demo.request("herb-planter")["product"]
    others = (
        asked_of("herb-planter"),
        asked_of("herb-planter", channel="market"),
        asked_of("herb-planter", product={**product, "reject_pct": 3}),
    )
    orders = {id(resolve(each, demo.sheet(), kept=kept).orders) for each in others}
    assert len(orders) == len(others)


def test_only_so_many_products_are_kept_and_no_long_one() -> None:
    kept: Kept = {}
    product = demo.request("herb-planter")["product"]

    def products_kept(**changed: Any) -> int:
        request = asked_of("herb-planter", product={**product, **changed})
        resolve(request, demo.sheet(), kept=kept)
        return len(kept["described", ""][0])

    counts = [products_kept(name=str(n)) for n in range(described.MOST_KEPT + 1)]
    half = described.MOST_KEPT // 2
    assert counts == [*range(1, described.MOST_KEPT + 1), half + 1]
    assert products_kept(pieces=product["pieces"] * 20) == half + 1


def test_only_so_many_quantities_of_a_product_are_kept() -> None:
    with costing_arithmetic():
        orders = resolve(asked_of("herb-planter"), demo.sheet(), kept={}).orders
        first = orders.of(1)
        assert orders.of(1) is first
        for quantity in range(2, MOST_QUANTITIES + 2):
            orders.of(quantity)
        assert orders.of(1) is not first
        assert orders.of(1) == first

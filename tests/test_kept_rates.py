"""What was resolved of a sheet for one request serves the next, and changes no answer."""

from decimal import Decimal
from typing import Any

from hypothesis import given

from gramhour.contract.reading import read_request
from gramhour_service.answer.quoting import answer_request
from gramhour_service.resolve.rates import Kept
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

"""What the client answers is what the calculation says, for orders drawn over all members."""

from typing import Any

import msgspec
from hypothesis import given, settings

from gramhour import Client, QuoteRequest, Refusal
from gramhour.contract.problem import Refused
from gramhour.contract.reading import read_request
from gramhour_service.answer.price_view import price_view
from tests.orders import ORDERS, orders, price


def sent(order: Any) -> dict[str, Any]:
    return {**order["request"], "rates": order["rates"]}


def said(order: Any) -> Any:
    """What the calculation says: a quote, or the type and places of its refusal."""
    try:
        return msgspec.to_builtins(price(order))
    except Refused as refused:
        return refused.type, sorted(str(fault.pointer) for fault in refused.faults)


def told(shop: Client, request: Any) -> Any:
    try:
        return _without_day(msgspec.to_builtins(shop.quote(request)))
    except Refusal as refusal:
        return refusal.type, sorted(str(fault.pointer) for fault in refusal.faults)


def _without_day(quote: dict[str, Any]) -> dict[str, Any]:
    """Leave out what the service adds: the day that it is asked on."""
    return {name: each for name, each in quote.items() if name not in ("rates_on", "valid_until")}


@given(order=orders())
@settings(max_examples=100)
def test_a_dict_is_quoted_as_the_calculation_quotes_it(shop: Client, order: Any) -> None:
    assert told(shop, sent(order)) == _calculated(order)


@given(order=orders())
@settings(max_examples=50)
def test_a_request_of_the_contracts_types_is_quoted_the_same(shop: Client, order: Any) -> None:
    request = read_request(sent(order))
    assert isinstance(request, QuoteRequest)
    assert told(shop, request) == _calculated(order)


def _calculated(order: Any) -> Any:
    calculated = said(order)
    return _without_day(calculated) if isinstance(calculated, dict) else calculated


def test_many_are_quoted_like_one_and_priced_like_a_customer_sees_it(shop: Client) -> None:
    quotes = [price(order) for order in ORDERS[:40]]
    requests = [sent(order) for order in ORDERS[:40]]
    many = [answer.quote for answer in shop.quote_many(requests, batch_size=9)]
    prices = [answer.quote for answer in shop.quote_price_many(requests, batch_size=9)]
    for quote, answer, shown in zip(quotes, many, prices, strict=True):
        assert _without_day(msgspec.to_builtins(answer)) == msgspec.to_builtins(quote)
        assert shown
        assert shown.breaks == price_view(quote).breaks

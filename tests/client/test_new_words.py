"""Services of another time: a newer one's stored rates have words that this client does not know,
an older one's answers lack what was added since."""

from typing import Any

import msgspec
import pytest
from msgspec import UNSET

from gramhour import UnexpectedAnswer, calls, calls_of_listings
from gramhour.answers import read_answer
from gramhour.arrived import Arrived
from gramhour.contract.component import Component
from gramhour.contract.rates import RateSheet
from tests import demo

NEW = {"charging": "borrowed", "measure": "furlong", "hazards": ["food contact", "static"]}
PART: dict[str, Any] = {"offers": [{"price": "1.50"}], **NEW}
AT = {"rates_revision": 1, "rates_on": "2026-12-01"}


def read(call: calls.Call[Any], **members: Any) -> Any:
    body = msgspec.json.encode(AT | members)
    return read_answer(call, Arrived(200, headers={"content-type": "application/json"}, body=body))  # type: ignore[arg-type]


def is_the_part(part: object) -> bool:
    assert isinstance(part, Component)
    return {name: getattr(part, name) for name in NEW} == NEW


def test_an_unknown_word_in_a_sheet_is_a_text_and_the_rest_has_its_types() -> None:
    sheet = msgspec.to_builtins(demo.sheet())
    sheet["components"]["new"] = PART
    rates = read(calls.rates(None, None), in_force_from="2026-12-01", rates=sheet).rates
    assert isinstance(rates, RateSheet)
    assert is_the_part(rates.components.pop("new"))  # type: ignore[union-attr]
    assert rates == demo.sheet()


def test_an_unknown_word_in_one_rate_and_in_one_kind_is_a_text() -> None:
    known = {"kind": "components", "rates": {"new": PART}}
    assert is_the_part(read(calls.rates_kind("components", None, None), **known).rates["new"])
    one = {"kind": "components", "code": "new", "changed_in": 1, "in_force_from": "2026-12-01"}
    assert is_the_part(read(calls.rate("components", "new", None, None), **one, value=PART).value)


@pytest.mark.parametrize("wrong", [{"offers": "none"}, {"charging": 5}, {"hazards": [5]}], ids=str)
def test_what_is_no_word_is_unexpected_still(wrong: dict[str, Any]) -> None:
    known = {"kind": "components", "rates": {"new": PART | wrong}}
    with pytest.raises(UnexpectedAnswer):
        read(calls.rates_kind("components", None, None), **known)


def test_prices_of_a_service_that_does_not_tell_its_day_are_read() -> None:
    told = {"channel": "own-shop", "currency": "EUR", "prices_include_tax": True, "change": 2}
    prices = read(calls_of_listings.prices("own-shop", None, None, None), **told, items=[])
    assert (prices.change, prices.prices_on) == (2, UNSET)

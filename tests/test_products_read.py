"""A product that was read by a sheet is not read again, and what only looks alike is."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Refused
from gramhour.contract.reading import read_request
from gramhour_service.sheets.described import read_by
from gramhour_service.sheets.in_force import InForce
from tests import demo


@pytest.fixture
def in_force() -> InForce:
    return InForce(demo.sheet(), 1, date(2026, 12, 1), None, {}, {})


def asked(**product: Any) -> Any:
    sent = demo.request("herb-planter")
    return {**sent, "product": {**sent["product"], **product}}


def read(in_force: InForce, sent: Any) -> Any:
    return read_by(in_force, sent, names_codes=True)


@pytest.mark.parametrize("name", demo.NAMES)
def test_a_request_is_read_as_without_the_sheets_memory(name: str, in_force: InForce) -> None:
    sent = demo.request(name)
    expected = read_request(sent, demo.sheet())
    assert [read(in_force, sent) for _ in range(2)] == [expected, expected]


def test_the_same_product_is_read_once_whatever_else_is_asked(in_force: InForce) -> None:
    first = read(in_force, asked())
    again = read(in_force, {**asked(), "quantity": 7})
    assert again.product is first.product
    assert again.quantity == 7
    assert read(in_force, asked(reject_pct=3)).product is not first.product


@pytest.mark.parametrize(
    ("good", "alike"),
    [
        ({"name": "2.5"}, {"name": Decimal("2.5")}),
        ({"name": "2026-12-01"}, parse_toml(b"name = 2026-12-01")),
        ({"reject_pct": 1}, {"reject_pct": True}),
        ({"work": {"made_before": 1}}, parse_json(b'{"work": {"made_before": 1.0}}')),
    ],
    ids=["a number for a name", "a day for a name", "true for one", "a fraction for a count"],
)
def test_what_looks_like_a_product_read_before_is_refused_as_ever(
    good: Any, alike: Any, in_force: InForce
) -> None:
    read(in_force, asked(**good))
    with pytest.raises(Refused) as expected:
        read_request(asked(**alike), demo.sheet())
    with pytest.raises(Refused) as refused:
        read(in_force, asked(**alike))
    assert refused.value.faults == expected.value.faults


@pytest.mark.parametrize(
    "product",
    [{"name": "\ud800"}, {"reject_pct": 10**30}, {"name": object()}, {"name": "n" * 5_000}],
    ids=["half a character", "far too large", "no value at all", "far too long"],
)
def test_what_cannot_be_kept_is_refused_in_words(product: Any, in_force: InForce) -> None:
    with pytest.raises(Refused):
        read(in_force, asked(**product))


def test_overrides_name_codes_that_the_sheet_does_not_have(in_force: InForce) -> None:
    sent = asked(work={"unit_min": 3})
    own = {**sent, "rate_overrides": {"materials": {"pla-own": {"price_per_kg": 30}}}}
    own["product"]["pieces"] = [
        {**own["product"]["pieces"][0], "feed": [{"material": "pla-own", "mass_g": 20}]}
    ]
    read(in_force, own)
    with pytest.raises(Refused):
        read(in_force, {name: value for name, value in own.items() if name != "rate_overrides"})


def test_a_byte_order_mark_is_refused_in_words() -> None:
    with pytest.raises(Refused) as refused:
        parse_json(b'\xef\xbb\xbf{"quantity": 1}')
    (fault,) = refused.value.faults
    assert fault.detail == "it begins with a byte order mark; save it without one"

"""Numbers and documents that would hang, crash or mislead a careless reader: refused in words."""

import copy
from decimal import Decimal
from typing import Any

import pytest

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Fault, Refused
from gramhour_service.answer.quoting import answer_quote
from tests import demo

PLANTER: Any = demo.request("herb-planter")
JSON = b'{"product": {"pieces": []}, "quantity": %s, "channel": "own-shop", "discount_pct": %s}'
PLAIN = "must be a plain decimal number such as 12.50"


def refused(body: Any) -> tuple[Fault, ...]:
    with pytest.raises(Refused) as refusal:
        answer_quote(parse_json(body) if isinstance(body, bytes) else body, demo.sheet())
    return refusal.value.faults


@pytest.mark.parametrize(
    ("number", "telling"),
    [
        ('"NaN"', PLAIN),
        ('"sNaN"', PLAIN),
        ('"Infinity"', PLAIN),
        ('"-Infinity"', PLAIN),
        ('"1_000"', PLAIN),
        ('" 1 "', PLAIN),
        ('"٣"', PLAIN),
        ('""', PLAIN),
        ('"0x10"', PLAIN),
        ('"1E+999999"', PLAIN),
        ("1e999999", "must be within ±1000000000"),
        ("1e-999999", "must have at most 9 decimals"),
        ('"1e400"', "must be within ±1000000000"),
        ("1234567890123456789012345678901234567890", "must be within ±1000000000"),
        ('"1234567890123456789012345678901234567890"', "must be within ±1000000000"),
        ("0.1234567891", "must have at most 9 decimals"),
        ("-0", "must not be minus zero"),
        ("-0.0", "must not be minus zero"),
        ('"-0"', "must not be minus zero"),
        ("-1", "must be 0 or more"),
        ("100.000000001", "must be 100 or less"),
        ("true", "must be a number, not true"),
        ("null", "must be a number, not null"),
        ("[]", "must be a number, not a list"),
    ],
)
def test_a_hostile_decimal_is_refused_in_words_at_its_place(number: str, telling: str) -> None:
    (fault,) = refused(JSON % (b"1", number.encode()))
    assert fault.pointer == "/discount_pct"
    assert fault.detail.startswith(telling)


@pytest.mark.parametrize(
    ("number", "telling"),
    [
        ("1.0", "must be a whole number without quotes, not 1.0"),
        ('"1"', "must be a whole number without quotes, not '1'"),
        ("1e999999", "must be a whole number without quotes"),
        ("-0", "must be a whole number without quotes, not -0"),
        ("0", "must be from 1 to 100000, not 0"),
        ("100001", "must be from 1 to 100000, not 100001"),
        ("true", "must be a whole number without quotes, not true"),
        ("null", "must be a whole number without quotes, not null"),
        ("9" * 10_000, "must be a whole number without quotes"),
    ],
)
def test_a_hostile_whole_number_is_refused_in_words_at_its_place(number: str, telling: str) -> None:
    (fault,) = refused(JSON % (number.encode(), b"0"))
    assert fault.pointer == "/quantity"
    assert fault.detail.startswith(telling)


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e999999", "-0.0", '"1_000"', "true"])
def test_a_hostile_decimal_in_toml_is_refused_at_its_place(number: str) -> None:
    request = copy.deepcopy(PLANTER) | parse_toml(f"discount_pct = {number}".encode())
    (fault,) = refused(request)
    assert fault.pointer == "/discount_pct"


@pytest.mark.parametrize(
    ("body", "telling"),
    [
        (b"", "not JSON at line 1, column 1"),
        (b'{"a": 1', "not JSON at line 1"),
        (b'{"a": NaN}', "NaN is not a JSON number"),
        (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
        (b'{"a": "\xff"}', "not UTF-8 at byte 7"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"a": 1, "a": 2}', "the member 'a' stands twice in one object; keep one"),
    ],
)
def test_a_document_that_is_none_is_refused_in_words(body: bytes, telling: str) -> None:
    with pytest.raises(Refused) as refusal:
        parse_json(body)
    assert refusal.value.type == "malformed-document"
    assert refusal.value.faults[0].detail.startswith(telling)


def test_a_list_is_no_request() -> None:
    (fault,) = refused([PLANTER])
    assert fault == Fault("", "must be an object of members, not a list")


def test_json_numbers_are_read_exactly() -> None:
    assert parse_json(b"[0.1, 1.10, 12345678.123456789]") == [
        Decimal("0.1"),
        Decimal("1.10"),
        Decimal("12345678.123456789"),
    ]

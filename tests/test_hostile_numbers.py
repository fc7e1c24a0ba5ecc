"""Numbers and documents that would hang, crash or mislead a careless reader: refused in words."""

import json
from decimal import Decimal
from typing import Any

import pytest

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Fault, Refused
from gramhour_service.answer.quoting import answer_quote
from tests import demo

PLANTER: Any = demo.request("herb-planter")
PLAIN = "must be a plain decimal number such as 12.50, not "
WITHIN = "must be within ±1000000000, not "
DECIMALS = "must have at most 9 decimals, not "
WHOLE = "must be a whole number, not "
FINITE = "must be a finite number, not "
MINUS_ZERO = "must not be minus zero; write 0"
FORTY_DIGITS = "1234567890" * 4

# As they stand in JSON and TOML alike.
TEXTS = [
    "NaN",
    "sNaN",
    "-NaN",
    "Infinity",
    "-Infinity",
    "1_000",
    " 1 ",
    "٣",
    "１",  # noqa: RUF001 (a full-width digit)
    "",
    "0x10",
    "+1",
    ".5",
    "1.",
    "1e999999",
    "1e-999999",
    "1E+999999",
]
DECIMAL_IN_BOTH = [
    *((f'"{text}"', f"{PLAIN}'{text}'") for text in TEXTS),
    ("1e999999", f"{WITHIN}1E+999999"),
    ('"1e400"', f"{WITHIN}'1e400'"),
    (FORTY_DIGITS, WITHIN + FORTY_DIGITS),
    (f'"{FORTY_DIGITS}"', f"{WITHIN}'{FORTY_DIGITS}'"),
    ("1e-999999", f"{DECIMALS}1E-999999"),
    ('"1e-999"', f"{DECIMALS}'1e-999'"),
    ("0.1234567891", f"{DECIMALS}0.1234567891"),
    ('"0.1234567891"', f"{DECIMALS}'0.1234567891'"),
    ("-0.0", MINUS_ZERO),
    ('"-0"', MINUS_ZERO),
    ("-1", "must be 0 or more, not -1"),
    ("100.000000001", "must be 100 or less, not 100.000000001"),
    ("true", "must be a number, not true"),
    ("[]", "must be a number, not a list"),
]
WHOLE_IN_BOTH = [
    *((f'"{text}"', f"{WHOLE}'{text}'") for text in [*TEXTS, "-0"]),
    ('"1"', f"{WHOLE}'1'; leave the quotes away"),
    ("1.0", f"{WHOLE}1.0"),
    ("1e999999", f"{WHOLE}1E+999999"),
    ("1e-999999", f"{WHOLE}1E-999999"),
    ("0.1234567891", f"{WHOLE}0.1234567891"),
    ("-0.0", f"{WHOLE}-0.0"),
    ("0", "must be from 1 to 100000, not 0"),
    ("100001", "must be from 1 to 100000, not 100001"),
    (FORTY_DIGITS, f"must be from 1 to 100000, not {FORTY_DIGITS}"),
    ("true", f"{WHOLE}true"),
    ("[]", f"{WHOLE}a list"),
]


def faults_of(changes: Any) -> tuple[Fault, ...]:
    """Refuse a request that is sound but for ``changes``, and say what for."""
    with pytest.raises(Refused) as refusal:
        answer_quote(PLANTER | changes, demo.sheet())
    assert refusal.value.type == "invalid-request"
    return refusal.value.faults


def in_json(member: str, number: str) -> tuple[Fault, ...]:
    return faults_of(parse_json(f'{{"{member}": {number}}}'.encode()))


def in_toml(member: str, number: str) -> tuple[Fault, ...]:
    return faults_of(parse_toml(f"{member} = {number}".encode()))


def test_the_request_that_these_tests_change_is_answered() -> None:
    assert answer_quote(PLANTER, demo.sheet()).at_quantity.quantity == PLANTER["quantity"]


@pytest.mark.parametrize(
    ("number", "detail"),
    [
        *DECIMAL_IN_BOTH,
        ("-0", MINUS_ZERO),
        ("-0e5", MINUS_ZERO),
        ("null", "must be a number, not null"),
        ("{}", "must be a number, not an object"),
        ("9" * 10_000, f"{WITHIN}{'9' * 40}… (10000 characters)"),
    ],
)
def test_a_hostile_decimal_in_json_is_refused_in_words_at_its_place(
    number: str, detail: str
) -> None:
    assert in_json("discount_pct", number) == (Fault("/discount_pct", detail),)


@pytest.mark.parametrize(
    ("number", "detail"),
    [
        *DECIMAL_IN_BOTH,
        ("nan", f"{FINITE}NaN"),
        ("inf", f"{FINITE}Infinity"),
        ("-inf", f"{FINITE}-Infinity"),
        ("1_000", "must be 100 or less, not 1000"),  # TOML allows it, and means a thousand
        ("2026-01-01", "must be a number, not a date"),
    ],
)
def test_a_hostile_decimal_in_toml_is_refused_in_words_at_its_place(
    number: str, detail: str
) -> None:
    assert in_toml("discount_pct", number) == (Fault("/discount_pct", detail),)


@pytest.mark.parametrize(
    ("number", "detail"),
    [
        *WHOLE_IN_BOTH,
        ("-0", f"{WHOLE}-0"),
        ("1e0", f"{WHOLE}1"),
        ("null", f"{WHOLE}null"),
        ("{}", f"{WHOLE}an object"),
        ("9" * 10_000, f"{WHOLE}{'9' * 40}… (10000 characters)"),
        ("-" + "9" * 10_000, f"{WHOLE}-{'9' * 39}… (10001 characters)"),
    ],
)
def test_a_hostile_whole_number_in_json_is_refused_in_words_at_its_place(
    number: str, detail: str
) -> None:
    assert in_json("quantity", number) == (Fault("/quantity", detail),)


@pytest.mark.parametrize(
    ("number", "detail"),
    [
        *WHOLE_IN_BOTH,
        ("nan", f"{WHOLE}NaN"),
        ("inf", f"{WHOLE}Infinity"),
        ("-inf", f"{WHOLE}-Infinity"),
        ("-0", "must be from 1 to 100000, not 0"),
        ("2026-01-01", f"{WHOLE}a date"),
    ],
)
def test_a_hostile_whole_number_in_toml_is_refused_in_words_at_its_place(
    number: str, detail: str
) -> None:
    assert in_toml("quantity", number) == (Fault("/quantity", detail),)


@pytest.mark.parametrize(
    ("body", "detail"),
    [
        (b"", "not JSON at line 1, column 1: Expecting value"),
        (b'{"a":\n 1', "not JSON at line 2, column 3: Expecting ',' delimiter"),
        (b"{} {}", "not JSON at line 1, column 4: Extra data"),
        (b'{"a": NaN}', "NaN is not a JSON number"),
        (b'{"a": Infinity}', "Infinity is not a JSON number"),
        (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
        (b'{"a": "\xff"}', "not UTF-8 at byte 7; save it as UTF-8"),
        (b"[" * 100_000, "nested too deeply; a request needs about ten levels"),
        (b"[" * 100_000 + b"]" * 100_000, "nested too deeply; a request needs about ten levels"),
        (b'{"a":' * 100_000, "nested too deeply; a request needs about ten levels"),
        (b'{"a": 1, "a": 1}', "the member 'a' stands twice in one object; keep one"),
        (
            b'[{"b": {"a": 1, "c": 2, "a": 3}}]',
            "the member 'a' stands twice in one object; keep one",
        ),
    ],
)
def test_a_body_that_is_no_sound_json_is_refused_in_words(body: bytes, detail: str) -> None:
    with pytest.raises(Refused) as refusal:
        parse_json(body)
    assert refusal.value.type == "malformed-document"
    assert refusal.value.faults == (Fault("", detail),)


@pytest.mark.parametrize(
    ("body", "telling"),
    [
        (b"a =", "not TOML: "),
        (
            b"a = 1b = 2",
            "not TOML: Expected newline or end of document after a statement (at line 1, column 6)"
            "; if these were several lines, their ends are missing: with curl send the file by "
            "--data-binary",
        ),
        (
            b"# curl --data took the line ends out  quantity = 1",
            "it is one line, and that a comment",
        ),
        (b"a = 1\na = 2", "not TOML: "),
        (b"a = NaN", "not TOML: "),
        (b"a = 00", "not TOML: "),
        (b'a = "' + b"1" * 500_000 + b'" x', "not TOML: "),  # hours, if each digit were tried
        (b'a = "\xff"', "not UTF-8 at byte 5; save it as UTF-8"),
        (b"a = " + b"[" * 100_000, "nested too deeply; a request needs about ten levels"),
        (b"a = " + b"{a=" * 100_000, "nested too deeply; a request needs about ten levels"),
    ],
)
def test_a_body_that_is_no_sound_toml_is_refused_in_words(body: bytes, telling: str) -> None:
    with pytest.raises(Refused) as refusal:
        parse_toml(body)
    assert refusal.value.type == "malformed-document"
    (fault,) = refusal.value.faults
    assert fault.pointer == ""
    assert fault.detail.startswith(telling)


@pytest.mark.parametrize(
    ("body", "found"),
    [(b"[]", "a list"), (b"null", "null"), (b"true", "true"), (b'"quote"', "a text")],
)
def test_a_body_that_is_no_object_is_no_request(body: bytes, found: str) -> None:
    with pytest.raises(Refused) as refusal:
        answer_quote(parse_json(body), demo.sheet())
    assert refusal.value.faults == (Fault("", f"must be an object of members, not {found}"),)


def test_an_empty_toml_request_lacks_what_has_no_default() -> None:
    with pytest.raises(Refused) as refusal:
        answer_quote(parse_toml(b""), demo.sheet())
    assert [fault.pointer for fault in refusal.value.faults] == [
        "/product",
        "/quantity",
        "/channel",
    ]


@pytest.mark.parametrize("number", ["0.1", "1.10", "2.675", "12345678.123456789", "1e2"])
def test_numbers_are_read_exactly_in_json_and_toml(number: str) -> None:
    # Compared as triples: 1.1 == 1.10, yet the second has a digit more.
    exact = Decimal(number).as_tuple()
    assert parse_json(number.encode()).as_tuple() == exact
    assert parse_toml(f"a = {number}".encode())["a"].as_tuple() == exact


@pytest.mark.parametrize("discount", ["0.1", "12.50", "33.333333333", "5e0", "0", "100e-1"])
def test_a_number_and_the_same_number_as_a_text_are_answered_alike(discount: str) -> None:
    as_text, as_number = (
        answer_quote(PLANTER | parse_json(f'{{"discount_pct": {sent}}}'.encode()), demo.sheet())
        for sent in (json.dumps(discount), discount)
    )
    assert as_text == as_number


@pytest.mark.parametrize("number", ["1e99999999999999999999", "1e-99999999999999999999"])
def test_an_exponent_that_nothing_can_hold_is_refused_at_its_place(number: str) -> None:
    assert parse_json(f'{{"a": {number}}}'.encode()) == {"a": number}
    assert parse_toml(f"a = {number}".encode()) == {"a": number}


@pytest.mark.parametrize(
    ("document", "telling"),
    [
        ("quantity = " + "9" * 5000, "a whole number in it has thousands of digits"),
        ("a." * 20_000 + "a = 1", "nested too deeply"),
        ("print_min = 215,5", "if 215,5 has a decimal comma, write 215.5"),
        ("price = 1.018,73", "if 1.018,73 is a number, write 1018.73"),
        ("rates_on = 2026-02-30", "there is no day 2026-02-30 in the calendar"),
        ("# mine\nquantity: 1", "this looks like YAML, which is not read: write TOML or JSON"),
    ],
)
def test_toml_that_cannot_be_read_is_refused_in_our_own_words(document: str, telling: str) -> None:
    with pytest.raises(Refused) as refusal:
        parse_toml(document.encode())
    assert telling in refusal.value.faults[0].detail


def test_half_a_character_in_a_member_named_twice_can_still_be_told() -> None:
    with pytest.raises(Refused) as refusal:
        parse_json(rb'{"\ud800": 1, "\ud800": 2}')
    assert refusal.value.faults[0].detail.encode().startswith(rb"the member '\ud800' stands twice")

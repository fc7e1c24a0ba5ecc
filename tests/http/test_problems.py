"""What is sent wrongly is refused in the one shape: bodies, forms of them, parameters."""

from collections.abc import AsyncIterator
from typing import Any

import pytest

from gramhour.contract.reading import SHEET_SENT
from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from tests.http.door import JSON, NDJSON, Door, problem_of, problem_type
from tests.http.repriced import demo_sheet

QUOTES, BATCH, CELL, RATES = "/v1/quotes", "/v1/quotes/batch", "/v1/unit-price", "/v1/rates"
NESTED = b'{"product":' * 50_000
TOO_LARGE = b" " * 10_000_001


def body(content: bytes | str, media_type: str | None = JSON) -> dict[str, Any]:
    headers = {} if media_type is None else {"Content-Type": media_type}
    return {"content": content, "headers": headers}


def planter(**changed: Any) -> dict[str, Any]:
    return {"json": {**HERB_PLANTER, **changed}}


BODIES = {
    "empty": b"",
    "blank": b" \n\t ",
    "not UTF-8": b'{"channel": "\xff"}',
    "UTF-16": '{"quantity": 1}'.encode("utf-16"),
    "cut off": b'{"quantity": 1',
    "two documents": b"{} {}",
    "nested": NESTED,
    "nested lists": b"[" * 50_000,
    "not a number": b'{"quantity": NaN}',
    "endless": b'{"quantity": -Infinity}',
    "a member twice": b'{"quantity": 1, "quantity": 2}',
    "a member twice within": b'{"product": {"name": "a", "name": "b"}}',
    "single quotes": b"{'quantity': 1}",
    "a control character": b'{"channel": "\x00"}',
}


@pytest.mark.parametrize("path", [QUOTES, BATCH])
@pytest.mark.parametrize("content", BODIES.values(), ids=BODIES)
def test_a_body_that_cannot_be_read_is_malformed(shop: Door, path: str, content: bytes) -> None:
    kind, _ = problem_of(shop.ask("POST", path, "cost", **body(content)))
    assert kind == "malformed-document"


HUGE: dict[str, bytes] = {
    "a huge exponent": b"1E+999999",
    "an exponent that nothing holds": b"1E+99999999999999999999",
    "a tiny exponent": b"1E-999999",
    "a thousand digits": b"9" * 1000,
    "a huge exponent as a text": b'"1E+999"',
    "not a number as a text": b'"NaN"',
    "minus zero": b"-0.0",
    "too many decimals": b"0.1234567891",
}


@pytest.mark.parametrize("number", HUGE.values(), ids=HUGE)
def test_a_number_that_cannot_be_is_told_of_in_its_place(shop: Door, number: bytes) -> None:
    content = b'{"discount_pct": %s, "quantity": %s}' % (number, number)
    kind, faults = problem_of(shop.ask("POST", QUOTES, "cost", **body(content)))
    assert kind == "invalid-request"
    assert {"/discount_pct", "/quantity"} <= {fault.get("pointer") for fault in faults}


@pytest.mark.parametrize("path", [QUOTES, BATCH])
@pytest.mark.parametrize(
    "media_type",
    [None, "", "text/plain", "text/json", "application/xml", "multipart/form-data; boundary=x",
     "application/x-www-form-urlencoded", "application/json; charset=latin-1",
     "application/json; charset=utf-16", "application/jsonp", ";;", "*/*"],
)  # fmt: skip
def test_a_body_in_a_form_that_is_not_named_is_refused(
    shop: Door, path: str, media_type: str | None
) -> None:
    kind, faults = problem_of(shop.ask("POST", path, "cost", **body("{}", media_type)))
    assert kind == "unsupported-media-type"
    assert JSON in faults[0]["detail"]


@pytest.mark.parametrize(
    "media_type",
    [
        JSON,
        "application/json; charset=utf-8",
        'application/json;charset="UTF-8"',
        "Application/JSON",
    ],
)
def test_a_body_of_json_may_say_that_it_is_utf_8(shop: Door, media_type: str) -> None:
    answer = shop.ask("POST", QUOTES, "cost", **body("{}", media_type))
    assert problem_type(answer) == "invalid-request"


def test_a_rate_sheet_that_is_sent_to_be_quoted_is_told_where_it_goes(shop: Door) -> None:
    for sheet in (demo_sheet(), {"currency": "EUR"}):
        kind, faults = problem_of(shop.ask("POST", QUOTES, "cost", json=sheet))
        assert (kind, faults) == ("invalid-request", [{"pointer": "", "detail": SHEET_SENT}])


NOT_OFFERED = ["text/html", "image/*", "application/xml;q=0.9", "a", ",", ";;;", "x" * 5000,
               "application/json;q=0", "*/*;q=0", "text/html, */*;q=0"]  # fmt: skip


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("POST", QUOTES),
        ("POST", BATCH),
        ("GET", RATES),
        ("GET", "/health"),
        ("GET", "/openapi.json"),
    ],
    ids=str,
)
@pytest.mark.parametrize("accept", NOT_OFFERED, ids=lambda accept: accept[:30])
def test_an_answer_in_a_form_that_is_not_offered_is_refused(
    shop: Door, method: str, path: str, accept: str
) -> None:
    sent = {**planter(), "headers": {"Accept": accept}}
    kind, faults = problem_of(shop.ask(method, path, "cost", **sent))
    assert kind == "not-acceptable"
    assert JSON in faults[0]["detail"]


@pytest.mark.parametrize(
    "accept",
    ["", "*/*", JSON, "application/*", "text/html, */*;q=0.1", "application/json;q=0.5, text/html",
     "application/json; charset=utf-8"],
)  # fmt: skip
def test_whoever_takes_json_among_others_is_answered(shop: Door, accept: str) -> None:
    assert shop.ask("GET", RATES, "cost", headers={"Accept": accept}).status_code == 200


@pytest.mark.parametrize("path", [QUOTES, BATCH])
def test_a_body_beyond_the_limit_is_too_large(shop: Door, path: str) -> None:
    async def chunks() -> AsyncIterator[bytes]:
        for _ in range(11):
            yield TOO_LARGE[:1_000_000]

    said = shop.ask("POST", path, "cost", **body(TOO_LARGE))
    headers = {"Content-Type": JSON}
    chunked = shop.ask("POST", path, "cost", content=chunks(), headers=headers)
    assert "content-length" not in chunked.request.headers
    for answer in (said, chunked):
        assert problem_of(answer)[0] == "body-too-large"


@pytest.mark.parametrize(
    ("method", "path", "faulty"),
    [
        ("GET", f"{RATES}?rates_revison=1", ["rates_revison"]),
        ("GET", f"{RATES}?rates_revision=1&rates_revision=1", ["rates_revision"]),
        ("GET", f"{RATES}?rates_revision=x&rates_on=y&z=1", ["rates_on", "rates_revision", "z"]),
        ("GET", f"{RATES}?rates_revision=0", ["rates_revision"]),
        ("GET", f"{RATES}?rates_revision=%D9%A3", ["rates_revision"]),
        ("GET", f"{RATES}?rates_revision", ["rates_revision"]),
        ("GET", f"{RATES}?rates_on=2026-02-30", ["rates_on"]),
        ("POST", f"{QUOTES}?view=all&explain=yes&viev=cost", ["explain", "view", "viev"]),
        ("POST", f"{BATCH}?explain=true", ["explain"]),
        ("GET", f"{CELL}?sku=a&quantity=1&quantity=2", ["quantity"]),
        ("GET", "/health?deep=true", ["deep"]),
        ("GET", "/docs?x=1", ["x"]),
    ],
)
def test_every_faulty_parameter_is_named(
    shop: Door, method: str, path: str, faulty: list[str]
) -> None:
    kind, faults = problem_of(
        shop.ask(method, path, "cost", **(planter() if method == "POST" else {}))
    )
    assert kind == "invalid-request"
    assert sorted(fault["parameter"] for fault in faults) == sorted(faulty)


def test_of_a_misspelt_parameter_the_nearest_is_offered(shop: Door) -> None:
    _, faults = problem_of(shop.ask("GET", f"{RATES}?rates_revison=1", "cost"))
    assert "did you mean 'rates_revision'?" in faults[0]["detail"]


def test_all_faults_of_a_request_are_told_at_once(shop: Door) -> None:
    sent = planter(quantity=0, channel="own-shopp", aim={}, discount_pct=-1, colour="red")
    kind, faults = problem_of(shop.ask("POST", QUOTES, "cost", **sent))
    assert kind == "invalid-request"
    assert [fault["pointer"] for fault in faults] == [
        "/quantity", "/channel", "/aim", "/discount_pct", "/colour"]  # fmt: skip
    assert "did you mean 'own-shop'?" in faults[1]["detail"]


def test_all_faults_of_a_cell_are_told_at_once_by_parameter(shop: Door) -> None:
    sent = {**ONE_PIECE, "material": "asa-gren", "quantity": "x", "print_min": "1,5", "mass_g": ""}
    kind, faults = problem_of(shop.ask("GET", CELL, "cost", params=sent))
    assert kind == "invalid-request"
    named = {fault["parameter"]: fault["detail"] for fault in faults}
    assert named.keys() == {"material", "quantity", "print_min", "mass_g"}
    assert "did you mean 'asa-green'?" in named["material"]


def test_a_batch_that_is_none_is_refused_as_a_whole(shop: Door) -> None:
    for content in ("[]", "1", "null", '{"requests": {}}', '{"requests": []}', '{"request": []}'):
        kind, _ = problem_of(shop.ask("POST", BATCH, "cost", **body(content)))
        assert kind == "invalid-request"
    kind, _ = problem_of(shop.ask("POST", BATCH, "cost", **body(" \n\n ", NDJSON)))
    assert kind == "invalid-request"

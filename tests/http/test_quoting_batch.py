"""POST /v1/quotes/batch: each request is answered in its place, as it would be alone."""

import time
from typing import Any

import msgspec
import pytest

from tests import demo
from tests.http.door import JSON, NDJSON, Door, problem_of, shape_of
from tests.http.test_quoting import plain

BATCH = "/v1/quotes/batch"
REQUESTS = [
    *({**plain(demo.request(name)), "reference": name} for name in demo.NAMES),
    plain(demo.request("herb-planter")),
    {**plain(demo.request("herb-planter")), "quantity": 0, "reference": "none of it"},
    {"sku": "herb-planter", "quantity": 1, "reference": "ü·" * 100},
    {**plain(demo.request("herb-planter")), "channel": "own-shopp", "colour": 1},
    [],
    None,
]  # fmt: skip
FORMS = [(JSON, JSON), (JSON, NDJSON), (NDJSON, JSON), (NDJSON, NDJSON)]


def written(requests: list[Any], form: str) -> bytes:
    if form == JSON:
        return msgspec.json.encode({"requests": requests})
    return b"\n".join(map(msgspec.json.encode, requests))


def asked(
    shop: Door, content: bytes, sent: str, gives: str | None = None, key: str = "cost"
) -> list[dict[str, Any]]:
    headers = {"Content-Type": sent, "Accept": gives or "*/*"}
    answer = shop.ask("POST", BATCH, key, content=content, headers=headers)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].partition(";")[0] == (gives or sent)
    if answer.headers["content-type"] == JSON:
        return list(answer.json()["answers"])
    *answers, last = map(msgspec.json.decode, answer.content.splitlines())
    assert last == {"done": len(answers)}
    assert answer.content.endswith(b"}\n")
    return answers


@pytest.mark.parametrize(("sent", "gives"), FORMS, ids=" ".join)
def test_each_request_is_answered_in_its_place_as_alone(shop: Door, sent: str, gives: str) -> None:
    answers = asked(shop, written(REQUESTS, sent), sent, gives)
    assert len(answers) == len(REQUESTS)
    for request, told in zip(REQUESTS, answers, strict=True):
        reference = request.get("reference") if isinstance(request, dict) else None
        assert told.get("reference") == reference
        alone = shop.ask("POST", "/v1/quotes", "cost", **alone_in_json(request))
        assert told.get("quote", told.get("problem")) == alone.json()
        assert ("quote" in told) == (alone.status_code == 200)


def without(request: Any) -> Any:
    """Leave the reference away."""
    if not isinstance(request, dict):
        return request
    return {name: value for name, value in request.items() if name != "reference"}


def alone_in_json(request: Any) -> dict[str, Any]:
    """Write a request as a body; httpx would send none for null."""
    content = msgspec.json.encode(without(request))
    return {"content": content, "headers": {"Content-Type": JSON}}


@pytest.mark.parametrize("sent", [JSON, NDJSON])
def test_the_answer_has_the_form_of_the_request_unless_another_is_asked(
    shop: Door, sent: str
) -> None:
    assert (
        asked(shop, written(REQUESTS[:2], sent), sent)[1]["reference"] == REQUESTS[1]["reference"]
    )


def test_a_line_that_cannot_be_read_is_told_with_its_number(shop: Door) -> None:
    good = msgspec.json.encode(REQUESTS[0])
    lines = [
        good,
        b"",
        b"{",
        b"  ",
        b'{"channel": "\xff"}',
        good,
        b'{"sku": 1, "sku": 2}',
        b"[" * 50_000,
    ]
    answers = asked(shop, b"\r\n".join(lines) + b"\n\n", NDJSON)
    assert ["quote" in told for told in answers] == [True, False, False, True, False, False]
    told = [shape_of(answers[n]["problem"]) for n in (1, 2, 4, 5)]
    assert {kind for kind, _ in told} == {"malformed-document"}
    assert [fault["line"] for _, faults in told for fault in faults] == [3, 5, 7, 8]
    assert "line 1" not in told[0][1][0]["detail"]


@pytest.mark.parametrize("reference", [1, None, [], {}, "x" * 201, "\ud800"], ids=ascii)
@pytest.mark.parametrize("gives", [JSON, NDJSON])
def test_a_reference_that_is_none_is_a_fault_of_its_own_request(
    shop: Door, reference: Any, gives: str
) -> None:
    good = REQUESTS[0]
    content = msgspec.json.encode({"requests": [good, {**good, "reference": "x?"}, good]})
    escaped = rb'"\ud800"' if reference == "\ud800" else msgspec.json.encode(reference)
    first, wrong, last = asked(shop, content.replace(b'"x?"', escaped), JSON, gives)
    assert ("quote" in first, "quote" in last) == (True, True)
    kind, faults = shape_of(wrong["problem"])
    assert (kind, [fault["pointer"] for fault in faults]) == ("invalid-request", ["/reference"])


@pytest.mark.parametrize("sent", [JSON, NDJSON])
def test_a_thousand_requests_are_answered_and_one_more_is_refused(shop: Door, sent: str) -> None:
    listed = {"sku": "herb-planter", "quantity": 1}
    numbered = [{**listed, "reference": str(n)} for n in range(1001)]
    answers = asked(shop, written(numbered[:1000], sent), sent)
    assert [told["reference"] for told in answers] == [str(n) for n in range(1000)]
    headers = {"Content-Type": sent}
    answer = shop.ask("POST", BATCH, "cost", content=written(numbered, sent), headers=headers)
    kind, faults = problem_of(answer)
    assert kind == "invalid-request"
    assert "1000" in faults[0]["detail"]


def test_a_batch_of_too_many_lines_is_refused_before_it_is_read(shop: Door) -> None:
    headers = {"Content-Type": NDJSON}
    before = time.process_time()
    answer = shop.ask("POST", BATCH, "price", content=b"x\n" * 200_000, headers=headers)
    assert problem_of(answer)[0] == "invalid-request"
    assert time.process_time() - before < 1


def test_the_price_view_of_a_batch_is_that_of_each_quote(shop: Door) -> None:
    content = written(REQUESTS[:3], JSON)
    headers = {"Content-Type": JSON}
    seen = {"view": "price"}
    answer = shop.ask("POST", BATCH, "cost", content=content, headers=headers, params=seen)
    for request, told in zip(REQUESTS, answer.json()["answers"], strict=False):
        alone = shop.ask("POST", "/v1/quotes", "cost", json=without(request), params=seen)
        assert told["quote"] == alone.json()


def test_a_price_key_may_ask_many_at_once(shop: Door) -> None:
    requests = [{"sku": "a", "quantity": 1, "reference": "1"}, {"sku": "b"}, REQUESTS[0]]
    answers = asked(shop, written(requests, JSON), JSON, key="price")
    kinds = [shape_of(told["problem"])[0] for told in answers]
    assert kinds == ["not-listed", "invalid-request", "member-not-allowed"]
    assert answers[0]["reference"] == "1"

"""Much work is seen before it is begun: refused in a batch, done in a thread alone, the same."""

from decimal import Decimal
from typing import Any

import msgspec
import pytest

from gramhour_service.http.settings import MESH_TRIANGLES, MOST_LISTS, MOST_TOML_BYTES, MOST_VALUES
from gramhour_service.http.work import MOST_AT_ONCE, MOST_IN_A_BATCH, work_of
from tests import demo
from tests.http.door import Door, problem_of

PLANTER = demo.request("herb-planter")
FIFTY = list(range(1, 51))


def in_pieces(number: int, **more: Any) -> dict[str, Any]:
    (piece, *_) = PLANTER["product"]["pieces"]
    return {**PLANTER, "product": {**PLANTER["product"], "pieces": [piece] * number}, **more}


@pytest.mark.parametrize(
    ("sent", "work"),
    [
        ({"breaks": []}, 1),
        ({"breaks": FIFTY}, 51),
        ({}, 7),
        ({"breaks": FIFTY, "product": {"pieces": [{}] * 100}}, 51 * 25),
        ({"breaks": [], "quantity": 100_000, "product": {"components": [{}]}}, 1 + 50),
        ({"breaks": [Decimal("1E+999999")], "product": {"components": [{}]}}, 2),
        ({"breaks": [], "quantity": Decimal("NaN"), "product": {"components": [{}]}}, 1),
        ({"breaks": True, "quantity": "x", "product": {"components": 1, "pieces": 2}}, 7),
        ([], 1),
        (None, 1),
    ],
)
def test_work_is_counted_by_quantities_and_pieces_whatever_is_sent(sent: Any, work: int) -> None:
    assert work_of(sent) == work


def test_what_is_computed_in_a_thread_is_answered_to_the_digit_as_by_itself(shop: Door) -> None:
    asked = in_pieces(20, breaks=FIFTY)
    assert work_of(asked) > MOST_AT_ONCE
    much = shop.ask("POST", "/v1/quotes", "cost", content=encoded(asked), headers=AS_JSON)
    assert much.status_code == 200, much.text
    told = {each["quantity"]: each for each in much.json()["breaks"]}
    for quantity in (1, 7, 50):
        alone = in_pieces(20, breaks=[quantity])
        assert work_of(alone) <= MOST_AT_ONCE
        answer = shop.ask("POST", "/v1/quotes", "cost", content=encoded(alone), headers=AS_JSON)
        (found,) = answer.json()["breaks"]
        # Its flags tell of the breaks beside it.
        assert {**found, "flags": []} == {**told[quantity], "flags": []}


def test_a_batch_that_asks_for_too_much_is_refused_with_how_much(shop: Door) -> None:
    few, many = MOST_IN_A_BATCH // 51, MOST_IN_A_BATCH // 51 + 1
    request = {**PLANTER, "breaks": FIFTY, "channel": "no such channel"}
    body = encoded({"requests": [request] * few})
    assert shop.ask("POST", "/v1/quotes/batch", "cost", content=body, headers=AS_JSON).is_success
    body = encoded({"requests": [request] * many})
    answer = shop.ask("POST", "/v1/quotes/batch", "cost", content=body, headers=AS_JSON)
    kind, fault = problem_of(answer)
    assert (kind, fault[0]["pointer"]) == ("invalid-request", "/requests")
    assert fault[0]["detail"].startswith(f"asks for about {many * 51} prices")


@pytest.mark.parametrize(
    ("media_type", "body", "says"),
    [
        ("json", b"[" + b"[]," * MOST_LISTS + b"0]", "at most 50,000 lists are read"),
        ("json", b"[" + b'"",' * (MOST_VALUES + 1) + b"0]", "at most 500,000 values are read"),
        ("toml", b"quantity = 1\n" + b"#" * MOST_TOML_BYTES, "at most 1 MB of TOML is read"),
    ],
)
@pytest.mark.parametrize("route", ["/v1/quotes", "/v1/quotes/batch"])
def test_what_would_take_long_to_read_in_one_go_is_refused_before(
    shop: Door, route: str, media_type: str, body: bytes, says: str
) -> None:
    if (route, media_type) == ("/v1/quotes/batch", "toml"):
        media_type, body = "x-ndjson", b"1\n" + b"[" * (MOST_LISTS + 1)
        says = '"type":"/problems/body-too-large"'
    headers = {"Content-Type": f"application/{media_type}"}
    answer = shop.ask("POST", route, "price", content=body, headers=headers)
    assert says in answer.text
    assert "/problems/body-too-large" in answer.text


def test_a_mesh_of_too_many_triangles_is_refused_before_it_is_measured(shop: Door) -> None:
    content = bytes(80) + (MESH_TRIANGLES + 1).to_bytes(4, "little")
    content += bytes(50 * (MESH_TRIANGLES + 1))
    headers = {"Content-Type": "model/stl"}
    answer = shop.ask("POST", "/v1/measurements", "price", content=content, headers=headers)
    kind, (fault,) = problem_of(answer)
    assert kind == "body-too-large"
    assert "300,001 triangles, at most 300,000 are read" in fault["detail"]


AS_JSON = {"Content-Type": "application/json"}


def encoded(document: Any) -> bytes:
    return msgspec.json.encode(document)

"""What a key that answers customers may not send, and is told of."""

import pytest

from gramhour.contract.request import QuoteRequest
from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from tests.http.door import Door, problem_type
from tests.http.routes import ASKED

OF_BUYERS = {"sku", "quantity", "breaks", "channel", "measurement", "service", "material", "seal"}
BEYOND = sorted({*QuoteRequest.__struct_fields__} - OF_BUYERS)


@pytest.mark.parametrize("member", BEYOND)
@pytest.mark.parametrize("key", ["price", "bound"])
def test_a_price_key_may_not_send_and_is_told_of(shop: Door, key: str, member: str) -> None:
    for value in (HERB_PLANTER.get(member, {}), None, 1, "x"):
        sent = {"sku": "herb-planter", "quantity": 1, member: value}
        answer = shop.ask("POST", "/v1/quotes", key, json=sent)
        assert (answer.status_code, problem_type(answer)) == (403, "member-not-allowed")
        assert [fault["pointer"] for fault in answer.json()["errors"]] == [f"/{member}"]


def test_a_price_key_is_told_of_every_member_it_may_not_send(shop: Door) -> None:
    sent = dict.fromkeys(BEYOND, 1) | {"quantity": 1, "channel": "own-shop"}
    one = shop.ask("POST", "/v1/quotes", "price", json=sent)
    many = shop.ask("POST", "/v1/quotes/batch", "price", json={"requests": [sent]})
    for problem in (one.json(), many.json()["answers"][0]["problem"]):
        assert problem["status"] == 403
        assert {fault["pointer"] for fault in problem["errors"]} == {f"/{each}" for each in BEYOND}


def test_a_price_key_may_describe_nothing_by_parameters(shop: Door) -> None:
    described = {**ONE_PIECE, "margin_pct": 0, "discount_pct": 1, "rates_revision": 1}
    answer = shop.ask("GET", "/v1/unit-price", "price", params=described)
    assert (answer.status_code, problem_type(answer)) == (403, "member-not-allowed")
    named = {fault["parameter"] for fault in answer.json()["errors"]}
    assert named == set(described) - {"quantity", "channel"}


@pytest.mark.parametrize("way", ["explain=true", "view=cost"])
def test_a_price_key_may_not_ask_for_costs(shop: Door, way: str) -> None:
    paths = ["/v1/quotes"] if "explain" in way else ["/v1/quotes", "/v1/quotes/batch"]
    for path in paths:
        answer = shop.ask("POST", f"{path}?{way}", "price", **ASKED[path])
        assert (answer.status_code, problem_type(answer)) == (403, "key-may-not")


def test_a_key_that_is_bound_to_a_channel_asks_for_no_other(shop: Door) -> None:
    def asked(key: str, channel: str) -> str | None:
        sent = {"sku": "herb-planter", "quantity": 1, "channel": channel}
        return problem_type(shop.ask("POST", "/v1/quotes", key, json=sent))

    assert asked("bound", "own-shop") == "not-listed"
    assert asked("bound", "market") == "key-may-not"
    assert asked("bound", "no-such") == "key-may-not"
    assert asked("price", "market") == "not-listed"

"""Who may do what: every route for a key of each scope, against the contract's tables."""

from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from litestar import Litestar, get
from litestar.datastructures import State

from gramhour.contract.request import QuoteRequest
from gramhour_service.http.app import HANDLERS
from gramhour_service.http.asking import admit
from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from gramhour_service.http.problems import answer_refusal
from gramhour_service.http.settings import Settings
from gramhour_service.http.shop import Shop
from gramhour_service.store.keys import revoke_key
from gramhour_service.store.opening import open_store
from tests.cube import CUBE
from tests.http.door import NOW, SCOPES, Door, problem_type, secret

NEEDS: dict[tuple[str, str], str | None] = {
    ("POST", "/v1/quotes"): "price",
    ("POST", "/v1/quotes/batch"): "price",
    ("GET", "/v1/unit-price"): "price",
    ("POST", "/v1/measurements"): "price",
    ("GET", "/v1/rates"): "cost",
    ("GET", "/v1/rates/{kind}"): "cost",
    ("GET", "/v1/rates/{kind}/{code}"): "cost",
    ("PUT", "/v1/rates/{kind}/{code}"): "rates",
    ("DELETE", "/v1/rates/{kind}/{code}"): "rates",
    ("POST", "/v1/rate-changes"): "rates",
    ("GET", "/v1/revisions"): "cost",
    ("GET", "/v1/revisions/{number}"): "cost",
    ("GET", "/v1/revisions/{number}/changes"): "cost",
    ("GET", "/health"): None,
    ("GET", "/openapi.json"): None,
    ("GET", "/docs"): None,
    ("GET", "/docs/{name}"): None,
}
"""The contract's table of resources, those that are served."""

OPENS = {
    "price": {"price"},
    "cost": {"price", "cost"},
    "rates": {"price", "cost", "rates"},
    "listings": {"price", "cost", "listings"},
    "operate": {"operate"},
}
"""price ⊂ cost ⊂ rates; cost ⊂ listings; operate."""

ASKED: dict[str, dict[str, Any]] = {
    "/v1/quotes": {"json": {"sku": "herb-planter", "quantity": 1}},
    "/v1/quotes/batch": {"json": {"requests": [{"sku": "herb-planter", "quantity": 1}]}},
    "/v1/unit-price": {"params": {"sku": "herb-planter", "quantity": 1}},
    "/v1/measurements": {"content": CUBE, "headers": {"Content-Type": "model/stl"}},
}
"""Those that write are asked without a precondition or a body, so that nothing changes."""
WITHOUT_HARM = {
    **{(method, "/v1/rates/{kind}/{code}"): (428,) for method in ("PUT", "DELETE")},
    ("POST", "/v1/rate-changes"): (415,),
}
REFUSED = ("key-needed", "key-may-not")
ROUTES = [*NEEDS, *(("HEAD", path) for method, path in NEEDS if method == "GET")]


def ask(shop: Door, route: tuple[str, str], key: str | None = None) -> httpx.Response:
    method, path = route
    filled = path.format(kind="materials", code="asa-green", number=1, name="start.js")
    return shop.ask(method, filled, key, **ASKED.get(path, {}))


def served() -> set[tuple[str, str]]:
    return {
        (str(method), path.replace(":str}", "}"))
        for handler in HANDLERS
        for method in handler.http_methods
        for path in handler.paths
    }


def test_every_route_that_is_served_stands_in_the_contracts_table() -> None:
    assert served() == set(ROUTES)


@pytest.mark.parametrize(
    "handler",
    HANDLERS,
    ids=lambda handler: "{} {}".format(min(handler.http_methods), *handler.paths),
)
def test_every_route_declares_the_scope_of_the_contracts_table(handler: Any) -> None:
    (path,) = handler.paths
    (method,) = {str(method) for method in handler.http_methods} - {"HEAD"}
    assert handler.opt["scope"] == NEEDS[method, path.replace(":str}", "}")]


@pytest.mark.parametrize("key", SCOPES)
@pytest.mark.parametrize("route", ROUTES, ids=" ".join)
def test_a_key_opens_what_its_scope_opens_and_nothing_else(
    shop: Door, route: tuple[str, str], key: str
) -> None:
    needs = NEEDS.get(route) or NEEDS.get(("GET", route[1]))
    answer = ask(shop, route, key)
    if needs is None or needs in OPENS[key]:
        assert answer.status_code in WITHOUT_HARM.get(route, (200, 404))
        assert problem_type_of(answer) not in REFUSED
    else:
        assert answer.status_code == 403


@pytest.mark.parametrize("route", ROUTES, ids=" ".join)
def test_without_a_key_only_what_needs_none_is_open(shop: Door, route: tuple[str, str]) -> None:
    needs = NEEDS.get(route) or NEEDS.get(("GET", route[1]))
    answer = ask(shop, route)
    assert answer.status_code == (200 if needs is None else 401)
    assert ("www-authenticate" in answer.headers) == (needs is not None)


def problem_type_of(answer: httpx.Response) -> str | None:
    return problem_type(answer) if answer.content else None


def test_a_route_that_declares_no_scope_lets_nobody_in(shop_path: Path) -> None:
    @get("/forgotten", sync_to_thread=False)
    def forgotten() -> str:
        return "costs"

    app = Litestar(
        [forgotten],
        guards=[admit],
        exception_handlers={Exception: answer_refusal},
        state=State({"shop": Shop(Settings(store=shop_path), lambda: NOW)}),
        openapi_config=None,
        logging_config=None,
    )
    with closing(Door(app)) as door:
        for key in (None, *SCOPES):
            answer = door.ask("GET", "/forgotten", key)
            assert answer.status_code == 500
            assert "costs" not in answer.text


LOCKED = [route for route in NEEDS if NEEDS[route]]


@pytest.mark.parametrize("key", ["unknown", "expired", "revoked"])
@pytest.mark.parametrize("route", LOCKED, ids=" ".join)
def test_a_key_that_is_no_longer_or_never_was_good_opens_nothing(
    shop: Door, route: tuple[str, str], key: str
) -> None:
    answer = ask(shop, route, key)
    assert (answer.status_code, problem_type(answer)) == (401, "key-needed")


def test_what_is_wrong_with_a_key_is_not_told(shop: Door) -> None:
    answers = {ask(shop, LOCKED[0], key).content for key in ("unknown", "expired", "revoked")}
    assert len(answers) == 1


@pytest.mark.parametrize("key", ["price", "cost"])
def test_a_revoked_key_opens_nothing_from_the_next_request_on(own_shop: Door, key: str) -> None:
    route = ("POST", "/v1/quotes")
    assert ask(own_shop, route, key).status_code == 404
    path = own_shop.app.state.shop.settings.store
    store = open_store(path)
    revoke_key(store, key, now=NOW)
    store.close()
    assert ask(own_shop, route, key).status_code == 401


GOOD = secret("rates")


@pytest.mark.parametrize(
    "authorization",
    [GOOD, f"Basic {GOOD}", f"Bearer{GOOD}", "Bearer", "Bearer ", "", f"Token {GOOD}",
     f"Bearer {GOOD} {GOOD}", f"Bearer {GOOD}x", f"Bearer {GOOD[:-1]}", f"Bearer {GOOD.upper()}",
     "Bearer " + "x" * 100_000, "Bearer \xff\xfe"],
    ids=["bare", "basic", "no space", "no key", "blank", "empty", "other scheme", "twice", "longer",
         "shorter", "other case", "very long", "not ASCII"],
)  # fmt: skip
def test_only_a_bearer_key_is_a_key(shop: Door, authorization: str) -> None:
    headers = {"Authorization": authorization.encode("latin-1")}
    answer = shop.ask("GET", "/v1/rates", headers=headers)
    assert (answer.status_code, problem_type(answer)) == (401, "key-needed")
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_the_schemes_name_may_be_written_in_any_case(shop: Door) -> None:
    answer = shop.ask("GET", "/v1/rates", headers={"Authorization": f"bEARER {GOOD}"})
    assert answer.status_code == 200


@pytest.mark.parametrize("route", LOCKED, ids=" ".join)
@pytest.mark.parametrize("name", ["key", "api_key", "access_token", "token", "Authorization"])
def test_a_key_in_a_url_is_never_taken(shop: Door, route: tuple[str, str], name: str) -> None:
    method, path = route
    path = path.format(kind="materials", code="asa-green", number=1)
    for value in (GOOD, f"Bearer {GOOD}"):
        answer = shop.ask(method, path, params={name: value})
        assert answer.status_code == 401
    assert shop.ask(method, f"http://:{GOOD}@127.0.0.1:8750{path}").status_code == 401


BEYOND = sorted({*QuoteRequest.__struct_fields__} - {"sku", "quantity", "breaks", "channel"})


@pytest.mark.parametrize("member", [*BEYOND, "measurement", "service", "seal"])
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

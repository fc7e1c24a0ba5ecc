"""The maker's own spreadsheet may ask without a key: from this machine, and by no other way."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from gramhour_service.http.settings import Settings
from tests.http.door import BOUND, JSON, Door, opened, problem_type

PATH = "/v1/unit-price"
NAMES = frozenset({BOUND, "localhost:8750", "[::1]:8750"})


@pytest.fixture(scope="module")
def cells(shop_path: Path) -> Iterator[Door]:
    with opened(Settings(store=shop_path, cells_from=NAMES)) as door:
        yield door


def ask(door: Door, peer: str = "127.0.0.1", **headers: str) -> httpx.Response:
    sent = {name.replace("_", "-"): value for name, value in headers.items()}
    return door.ask("GET", PATH, peer=peer, params=ONE_PIECE, headers=sent)


def refused(answer: httpx.Response) -> bool:
    return (answer.status_code, problem_type(answer)) == (401, "key-needed")


def test_a_cell_on_this_machine_gets_one_number_as_text(cells: Door, shop: Door) -> None:
    answer = ask(cells)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.text == ONE_PIECE_PRICE
    assert answer.text == shop.ask("GET", PATH, "cost", params=ONE_PIECE).text


ONE_PIECE_PRICE = "7.90"
"""Of the demo's sheet: its channel's prices end in .90."""


def test_a_cell_sees_what_a_customer_sees(cells: Door, shop: Door) -> None:
    seen = ask(cells, accept=JSON).json()
    shown: dict[str, Any] = {"params": {**ONE_PIECE, "view": "price"}, "headers": {"Accept": JSON}}
    assert seen == shop.ask("GET", PATH, "cost", **shown).json()
    assert "unit_cost" not in seen["at_quantity"]


@pytest.mark.parametrize("peer", ["127.0.0.1", "127.8.8.8", "::1"])
@pytest.mark.parametrize("host", [*sorted(NAMES), "LOCALHOST:8750"])
def test_this_machine_may_be_named_as_it_is_bound(cells: Door, peer: str, host: str) -> None:
    assert ask(cells, peer, host=host).status_code == 200


@pytest.mark.parametrize(
    "name",
    ["Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Host", "X-Forwarded-Port",
     "X-Forwarded", "x-forwarded-for", "X-FORWARDED-PREFIX", "Via", "X-Real-IP", "X-Client-IP",
     "CF-Connecting-IP", "True-Client-IP", "X-Cluster-Client-IP",
     "X-Original-Forwarded-For"],
)  # fmt: skip
@pytest.mark.parametrize("value", ["127.0.0.1", "10.0.0.5", ""])
def test_what_came_through_a_proxy_is_no_cell(cells: Door, name: str, value: str) -> None:
    assert refused(ask(cells, **{name: value}))


@pytest.mark.parametrize("origin", ["http://shop.example", f"http://{BOUND}", "null", ""])
def test_what_a_web_page_sends_is_no_cell(cells: Door, origin: str) -> None:
    assert refused(ask(cells, origin=origin))


@pytest.mark.parametrize(
    "host",
    ["shop.example", "127.0.0.1", "127.0.0.1:80", "localhost", "localhost:8751", "10.0.0.5:8750",
     "127.0.0.1:8750.shop.example", "shop.example:8750", "127.0.0.1:8750,shop.example", "",
     "0.0.0.0:8750", "127.1:8750", "localhost.:8750"],
)  # fmt: skip
def test_what_was_sent_to_another_name_is_no_cell(cells: Door, host: str) -> None:
    assert refused(ask(cells, host=host))


def test_what_names_no_host_is_no_cell(cells: Door) -> None:
    request = httpx.Request("GET", f"http://{BOUND}{PATH}", params=ONE_PIECE)
    del request.headers["Host"]
    assert refused(cells.send(request))


@pytest.mark.parametrize(
    "peer",
    ["10.0.0.5", "192.168.1.2", "203.0.113.9", "0.0.0.0", "::", "fe80::1", "2001:db8::1",
     "128.0.0.1", "localhost", "testclient", "", "127.0.0.1.shop.example"],
)  # fmt: skip
def test_another_machine_is_no_cell(cells: Door, peer: str) -> None:
    assert refused(ask(cells, peer))


def test_cells_may_not_ask_unless_the_service_was_started_so(shop: Door) -> None:
    assert refused(ask(shop))


@pytest.mark.parametrize(
    ("method", "path", "sent"),
    [
        ("POST", "/v1/quotes", {"json": HERB_PLANTER}),
        ("POST", "/v1/quotes?view=price", {"json": {"sku": "x", "quantity": 1}}),
        ("POST", "/v1/quotes/batch", {"json": {"requests": [HERB_PLANTER]}}),
        ("GET", "/v1/rates", {}),
        ("GET", "/v1/rates/materials", {}),
        ("GET", "/v1/rates/materials/asa-green", {}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_cells_may_ask_for_nothing_else(
    cells: Door, method: str, path: str, sent: dict[str, Any]
) -> None:
    assert refused(cells.ask(method, path, **sent))


def test_cells_may_not_see_costs(cells: Door) -> None:
    answer = cells.ask("GET", PATH, params={**ONE_PIECE, "view": "cost"})
    assert (answer.status_code, problem_type(answer)) == (403, "key-may-not")


@pytest.mark.parametrize("key", ["expired", "revoked", "operate"])
def test_a_bad_key_is_no_better_than_none(cells: Door, key: str) -> None:
    answer = cells.ask("GET", PATH, key, params=ONE_PIECE)
    assert answer.status_code == (403 if key == "operate" else 401)


def test_a_price_key_may_not_describe_even_where_cells_may(cells: Door) -> None:
    answer = cells.ask("GET", PATH, "price", params=ONE_PIECE)
    assert (answer.status_code, problem_type(answer)) == (403, "member-not-allowed")


def test_a_cost_key_may_ask_from_anywhere(cells: Door) -> None:
    headers = {"X-Forwarded-For": "203.0.113.9", "Origin": "http://shop.example"}
    sent: dict[str, Any] = {"params": ONE_PIECE, "headers": headers}
    assert cells.ask("GET", PATH, "cost", peer="10.0.0.5", **sent).status_code == 200


def test_head_is_guarded_as_get_is(cells: Door) -> None:
    assert cells.ask("HEAD", PATH, params=ONE_PIECE).status_code == 200
    headers = {"X-Forwarded-For": "127.0.0.1"}
    assert cells.ask("HEAD", PATH, params=ONE_PIECE, headers=headers).status_code == 401

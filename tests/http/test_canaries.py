"""No answer to a buyer holds a rate, a code, a name or a note of the shop's sheet.

Every route is asked in every wrong way, and what comes back is searched for what must not be there.
"""

import base64
import re
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any

import pytest
from litestar.routes import HTTPRoute

from gramhour.contract.listing import ListingRow, ProductRow
from gramhour.contract.rates import RateSheet
from gramhour_service.http.settings import Settings
from tests.cube import CUBE
from tests.http import canary_shop
from tests.http.canaries import (
    CANARY,
    SEEN_BY_BUYERS,
    SHEET,
    TOO_SMALL_FOR_A_CANARY,
    WORDS_OF_THE_CONTRACT,
    found_in,
    leaves,
    members_in,
    members_of,
    sheet,
)
from tests.http.canary_shop import stock
from tests.http.door import BOUND, JSON, Door, make_shop, opened
from tests.http.questions import BODIES, CELLS, GOOD, NEAR, PIECE, QUESTIONS
from tests.measuring.shapes import block, stl_of

BUYERS = {
    "a price key": ("plain", "price"),
    "a key of one channel": ("plain", "bound"),
    "a key for metrics": ("plain", "operate"),
    "nobody": ("plain", None),
    "anybody, with public quoting": ("public", None),
    "the maker's cells": ("cells", None),
}


@pytest.fixture(scope="module")
def doors(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Door]]:
    path = make_shop(tmp_path_factory.mktemp("canaries") / "gramhour.sqlite", sheet())
    stock(path)
    with ExitStack() as stack:
        ways = {
            "plain": Settings(store=path),
            "public": Settings(store=path, public_quotes=True, quotes_a_minute=10**9),
            "cells": Settings(store=path, cells_from=frozenset({BOUND})),
        }
        yield {name: stack.enter_context(opened(way)) for name, way in ways.items()}


def test_every_member_of_a_sheet_has_a_canary_or_is_seen_by_buyers() -> None:
    assert members_of(RateSheet) <= members_in(SHEET)
    without = {name for name, value in leaves(SHEET)
               if not CANARY.search(str(value).replace(".", ""))}  # fmt: skip
    assert without == SEEN_BY_BUYERS | WORDS_OF_THE_CONTRACT | TOO_SMALL_FOR_A_CANARY


def test_every_member_of_a_product_and_a_listing_has_a_canary_or_is_seen_by_buyers() -> None:
    stored = {"product": canary_shop.PRODUCT, "listings": canary_shop.LISTINGS}
    members = members_of(ProductRow) | members_of(ListingRow)
    assert members <= members_in(stored)
    without = {name for name, value in leaves(stored)
               if not CANARY.search(str(value).replace(".", ""))}  # fmt: skip
    assert without == canary_shop.SEEN | canary_shop.WORDS_OF_THE_CONTRACT


def test_every_route_of_the_application_is_asked(doors: dict[str, Door]) -> None:
    asked = {(question.method, question.path.partition("?")[0]) for question in QUESTIONS}
    for served in doors["plain"].app.routes:
        assert isinstance(served, HTTPRoute)
        like = re.compile(re.sub(r"\\{[^}]*}", "[^/]+", re.escape(served.path_format)))
        for handler in served.route_handlers:
            for method in handler.http_methods:
                assert any(m == method and like.fullmatch(path) for m, path in asked), served.path


@pytest.mark.parametrize("buyer", BUYERS)
def test_no_answer_holds_a_canary_for(doors: dict[str, Door], buyer: str) -> None:
    service, key = BUYERS[buyer]
    for question in QUESTIONS:
        answer = doors[service].ask(question.method, question.path, key, **question.sent)
        assert (question, found_in(answer)) == (question, [])
        if "etag" in answer.headers:
            known = {"If-None-Match": answer.headers["etag"]}
            headers = {**question.sent.get("headers", {}), **known}
            sent = {**question.sent, "headers": headers}
            again = doors[service].ask(question.method, question.path, key, **sent)
            assert (again.status_code, found_in(again)) == (304, [])


def test_what_the_shop_is_shown_of_a_customers_view_holds_none(doors: dict[str, Door]) -> None:
    seen = {"view": "price"}
    for body in BODIES.values():
        answer = doors["plain"].ask("POST", "/v1/quotes", "cost", json=body, params=seen)
        assert (body, found_in(answer)) == (body, [])
    whole = {"requests": [*BODIES.values()]}
    answer = doors["plain"].ask("POST", "/v1/quotes/batch", "cost", json=whole, params=seen)
    assert found_in(answer) == []
    for change in [each for each in CELLS.values() if "view" not in each]:
        query = {name: value for name, value in {**PIECE, **change, **seen}.items() if value}
        answer = doors["plain"].ask("GET", "/v1/unit-price", "cost", params=query)
        assert (query, found_in(answer)) == (query, [])


@pytest.mark.parametrize("buyer", ["a price key", "anybody, with public quoting"])
def test_buyers_are_answered_listed_prices_so_that_there_is_something_to_search(
    doors: dict[str, Door], buyer: str
) -> None:
    service, key = BUYERS[buyer]
    listed = doors[service].ask("GET", "/v1/prices", key, params={"channel": "fair"}).json()
    (item, *_) = listed["items"]
    assert (item["sku"], item["name"]) == ("HP-2", "Herb planter")
    assert [each["unit_price"] for each in item["breaks"]] == ["9.90", "8.90"]
    asked = {"sku": "HP-2", "quantity": 4}
    quote = doors[service].ask("POST", "/v1/quotes", key, json=asked)
    assert quote.status_code == 200, quote.text
    assert quote.json()["at_quantity"]["unit_price"] == "9.90"


def test_without_a_key_a_page_does_not_end_with_what_is_only_planned(
    doors: dict[str, Door],
) -> None:
    asked = {"channel": "fair", "limit": 1}
    told = doors["public"].ask("GET", "/v1/prices", params=asked).json()
    assert ([item["sku"] for item in told["items"]], "next_cursor" in told) == (["HP-2"], False)
    assert "next_cursor" in doors["plain"].ask("GET", "/v1/prices", "price", params=asked).json()


@pytest.mark.parametrize("buyer", ["a price key", "anybody, with public quoting"])
def test_buyers_are_answered_prices_of_their_parts_that_hold_none(
    doors: dict[str, Door], buyer: str
) -> None:
    service, key = BUYERS[buyer]
    files = {"small": CUBE, "large": stl_of(block(150.5, 20, 20))}
    seen = {}
    for name, content in files.items():
        headers = {"Content-Type": "model/stl"}
        told = doors[service].ask(
            "POST", "/v1/measurements", key, content=content, headers=headers,
            params={"service": "own-parts"},
        )  # fmt: skip
        assert found_in(told) == []
        token = told.json()["measurement"]
        readable = base64.urlsafe_b64decode(token.split(".")[1] + "===").decode()
        assert CANARY.findall(readable.lower()) == []
        asked = {"measurement": token, "service": "own-parts", "material": "stone", "quantity": 2}
        for more in ({}, {"material": "quetza-green"}, {"service": "own-part"}, {"quantity": 3}):
            answer = doors[service].ask("POST", "/v1/quotes", key, json={**asked, **more})
            assert found_in(answer) == []
            seen[name, *more] = answer.status_code
    assert seen["small",] == 200
    assert {status for of, status in seen.items() if of != ("small",)} == {422}


def test_the_page_shows_listed_prices_so_that_there_is_something_to_search(
    doors: dict[str, Door],
) -> None:
    for page in ("/", "/quotation"):
        told = doors["public"].ask("GET", page, params={"sku": "HP-2", "quantity": 4})
        assert told.status_code == 200
        assert '<data class="money" value="9.90" data-currency="EUR">' in told.text
        assert "Herb planter" in told.text


def test_the_page_prices_an_own_part_so_that_there_is_something_to_search(
    doors: dict[str, Door],
) -> None:
    for page in ("/own-part", "/own-part/quotation"):
        told = doors["public"].ask(
            "POST",
            page,
            data={"quantity": "2", "made": "own-parts:stone"},
            files={"file": ("cube.stl", CUBE, "model/stl")},
        )
        assert told.status_code == 200, told.text
        assert '<data class="money"' in told.text
        assert "cube.stl in Stone grey" in told.text


def test_the_cells_are_answered_prices_so_that_there_is_something_to_search(
    doors: dict[str, Door],
) -> None:
    answer = doors["cells"].ask("GET", "/v1/unit-price", params=PIECE, headers={"Accept": JSON})
    assert answer.status_code == 200
    assert answer.json()["at_quantity"]["order_postage"] == "4.90"


@pytest.mark.parametrize(
    ("method", "path", "sent", "expected"),
    [
        ("POST", "/v1/quotes?explain=true", {"json": GOOD}, "719327"),
        ("POST", "/v1/quotes", {"json": BODIES["codes nearly right"]}, "quetzal"),
        ("POST", "/v1/quotes/batch", {"json": {"requests": [GOOD]}}, "quetzal"),
        ("GET", "/v1/unit-price", {"params": {**PIECE, **NEAR}}, "quetzal"),
        ("GET", "/v1/rates", {}, "719354"),
        ("GET", "/v1/rates/machines/quetzal-left", {}, "719337"),
        ("GET", "/v1/revisions/1/changes", {}, "719354"),
        ("POST", "/v1/quotes", {"json": {"sku": "HP-1", "quantity": 2}}, "719383"),
        ("GET", "/v1/products", {}, "719377"),
        ("GET", "/v1/products/quetzal-planter", {}, "719356"),
        ("GET", "/v1/listings", {}, "719379"),
        ("GET", "/v1/listings", {"headers": {"Accept": "text/csv"}}, "719380"),
        ("GET", "/v1/listings/HP-1", {}, "719378"),
        ("GET", "/v1/listings/HP-1/prices", {}, "719384"),
        ("GET", "/v1/rates/services/own-parts", {}, "719382"),
    ],
)
def test_the_search_finds_in_the_shops_own_answers(
    doors: dict[str, Door], method: str, path: str, sent: dict[str, Any], expected: str
) -> None:
    assert expected in found_in(doors["plain"].ask(method, path, "cost", **sent))

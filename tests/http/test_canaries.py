"""No answer to a buyer holds a rate, a code, a name or a note of the shop's sheet.

Every route is asked in every wrong way, and what comes back is searched for what must not be there.
"""

from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any, NamedTuple

import msgspec
import pytest

from gramhour.contract.rates import RateSheet
from gramhour_service.http.app import HANDLERS
from gramhour_service.http.settings import Settings
from tests.http.canaries import (
    CANARY,
    SEEN_BY_BUYERS,
    SHEET,
    WORDS_OF_THE_CONTRACT,
    found_in,
    leaves,
    members_in,
    members_of,
    sheet,
)
from tests.http.door import BOUND, JSON, NDJSON, Door, make_shop, opened

GOOD: dict[str, Any] = {
    "product": {
        "pieces": [{"machine": "quetzal-left", "nozzle": "quetzal-n4", "print_min": 60,
                    "feed": [{"material": "quetzal-green", "mass_g": 50}]}],
        "components": [{"component": "quetzal-gauge"}],
        "work": {"unit_min": 3},
    },
    "channel": "quetzal-market", "quantity": 2,
}  # fmt: skip
PIECE: dict[str, Any] = {
    "material": "quetzal-green", "machine": "quetzal-left", "nozzle": "quetzal-n4", "mass_g": 50,
    "print_min": 60, "channel": "quetzal-market", "quantity": 2,
}  # fmt: skip
NEAR = {name: value.replace("quetzal", "quetza") for name, value in PIECE.items()
        if isinstance(value, str)}  # fmt: skip
"""Codes with a letter missing, so that whoever helps with the nearest one gives it away."""

BODIES: dict[str, Any] = {
    "a good one": GOOD,
    "a sku": {"sku": "quetza-green", "quantity": 2, "channel": "quetza-market"},
    "codes nearly right": {
        **GOOD, "channel": "quetza-market",
        "product": {"pieces": [{**NEAR, "print_min": 1, "feed": [{**NEAR, "mass_g": 1}]}],
                    "components": [{"component": "quetza-gauge"}]}},
    "an aim out of reach": {**GOOD, "aim": {"margin_pct": "99.9"}},
    "a fraction of a cent": {**GOOD, "aim": {"unit_price": "1.001"}},
    "no multiple": {**GOOD, "quantity": 3, "breaks": [1, 5]},
    "an endless build": {
        **GOOD, "product": {"pieces": [{**GOOD["product"]["pieces"][0], "print_min": 9e7}]}},
    "a volume without density": {
        **GOOD, "product": {"pieces": [{**GOOD["product"]["pieces"][0], "feed": [
            {"material": "quetzal-plain", "volume_cm3": 1, "charge": "whole_packs"}]}]}},
    "too much money": {**GOOD, "quantity": 100_000, "product": {"work": {"unit_min": 10**9}}},
    "wrong numbers": {**GOOD, "quantity": "x", "breaks": [0], "discount_pct": 101},
    "unknown members": {**GOOD, "chanel": 1, "rate": 1, "quetza": 1},
    "a revision to come": {**GOOD, "rates_revision": 99},
    "a day before all": {**GOOD, "rates_on": "2020-01-01"},
    "an override": {**GOOD, "rate_overrides": {"channels": {"quetza-market": {}}}},
    "no object": ["quetza"],
    "nothing": None,
}  # fmt: skip
CELLS: dict[str, dict[str, Any]] = {
    "a good one": {},
    "a sku": {**dict.fromkeys(PIECE), "sku": "quetza-green", "quantity": 2},
    "codes nearly right": NEAR,
    "an aim out of reach": {"margin_pct": "99.9"},
    "a fraction of a cent": {"unit_price": "1.001"},
    "no multiple": {"quantity": 3, "breaks": "1,5"},
    "an endless build": {"print_min": "90000000"},
    "more than the build": {"per_build_g": 51, "per_build_min": 61},
    "a length without diameter": {"mass_g": None, "material": "quetzal-plain", "length_m": 3},
    "two ways": {"volume_cm3": 1},
    "too much money": {"quantity": 100_000, "unit_min": "1000000000"},
    "unknown parameters": {"quetza": 1, "labour": 1},
    "a revision to come": {"rates_revision": 99},
    "a day before all": {"rates_on": "2020-01-01"},
    "costs": {"view": "cost"},
    "nothing": dict.fromkeys(PIECE),
}
RATES = ["", "/shop", "/machines", "/machines/quetzal-left", "/machines/quetza-left", "/quetza",
         "?rates_revision=99", "?rates_on=2020-01-01", "?rate_revision=1"]  # fmt: skip
OPEN = ["/health", "/openapi.json", "/docs", "/docs/start.js", "/docs/quetza", "/quetza", "/"]


class Question(NamedTuple):
    """What is asked, in words and for httpx."""

    says: str
    method: str
    path: str
    sent: dict[str, Any]


def about_quotes() -> Iterator[Question]:
    for says, body in BODIES.items():
        for query in ("", "?view=price", "?view=cost", "?explain=true", "?wiew=cost"):
            yield Question(f"{says}{query}", "POST", f"/v1/quotes{query}", {"json": body})
    lines = [*map(msgspec.json.encode, BODIES.values()), b"{quetza", b"\xff"]
    for form, text in (
        (JSON, msgspec.json.encode({"requests": [*BODIES.values()]})),
        (NDJSON, b"\n".join(lines)),
    ):
        for accept in (JSON, NDJSON):
            headers = {"Content-Type": form, "Accept": accept}
            yield Question("all", "POST", "/v1/quotes/batch", {"content": text, "headers": headers})


def about_bad_bodies() -> Iterator[Question]:
    for path in ("/v1/quotes", "/v1/quotes/batch"):
        for content in (b"", b"{", b"\xff", b'{"quetza":' * 50_000, b"x" * 10_000_001):
            for media_type in (JSON, "text/csv"):
                headers = {"Content-Type": media_type}
                yield Question("bad", "POST", path, {"content": content, "headers": headers})
        yield Question("no form", "POST", path, {"json": {}, "headers": {"Accept": "image/png"}})


def about_cells() -> Iterator[Question]:
    for says, change in CELLS.items():
        query = {name: value for name, value in {**PIECE, **change}.items() if value is not None}
        for accept in ("text/plain", "text/csv", JSON, "image/png"):
            sent = {"params": query, "headers": {"Accept": accept}}
            for method in ("GET", "HEAD"):
                yield Question(says, method, "/v1/unit-price", sent)


def about_what_is_read() -> Iterator[Question]:
    for path in [*(f"/v1/rates{each}" for each in RATES), *OPEN, "/v1/unit-price"]:
        for method in ("GET", "HEAD", "OPTIONS", "DELETE", "PUT"):
            for headers in ({}, {"If-None-Match": "*"}, {"Accept": "image/png"}):
                yield Question("plain", method, path, {"headers": headers})


QUESTIONS = [*about_quotes(), *about_bad_bodies(), *about_cells(), *about_what_is_read()]
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
    assert without == SEEN_BY_BUYERS | WORDS_OF_THE_CONTRACT


def test_every_route_is_asked() -> None:
    asked = {(question.method, question.path.partition("?")[0]) for question in QUESTIONS}
    for handler in HANDLERS:
        (path,) = handler.paths
        for method in handler.http_methods:
            filled = path.replace("{kind:str}", "machines").replace("{code:str}", "quetzal-left")
            assert (str(method), filled.replace("{name:str}", "start.js")) in asked


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
    ],
)
def test_the_search_finds_in_the_shops_own_answers(
    doors: dict[str, Door], method: str, path: str, sent: dict[str, Any], expected: str
) -> None:
    assert expected in found_in(doors["plain"].ask(method, path, "cost", **sent))

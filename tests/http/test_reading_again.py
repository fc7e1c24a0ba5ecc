"""Whoever has an answer already is told only that; HEAD and OPTIONS stand beside every GET."""

from collections.abc import Callable
from typing import Any

import httpx
import pytest

from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from tests.http.door import BOUND, JSON, Door, secret

CELL = "/v1/unit-price"
PRICE, COST = "private, no-cache", "no-store"
CELLS: dict[str, Any] = {"params": ONE_PIECE}
AS_PRICE: dict[str, Any] = {"params": {**ONE_PIECE, "view": "price"}}
TAGGED: dict[str, tuple[str, dict[str, Any], str]] = {
    "the sheet": ("/v1/rates", {}, COST),
    "an earlier sheet": ("/v1/rates", {"params": {"rates_revision": 1}}, COST),
    "a kind": ("/v1/rates/materials", {}, COST),
    "what is sheet-wide": ("/v1/rates/shop", {}, COST),
    "a rate": ("/v1/rates/materials/asa-green", {}, COST),
    "a price with its costs": (CELL, CELLS, COST),
    "the same as JSON": (CELL, {**CELLS, "headers": {"Accept": JSON}}, COST),
    "the same as CSV": (CELL, {**CELLS, "headers": {"Accept": "text/csv"}}, COST),
    "a price": (CELL, AS_PRICE, PRICE),
    "a price as JSON": (CELL, {**AS_PRICE, "headers": {"Accept": JSON}}, PRICE),
    "the contract": ("/openapi.json", {}, PRICE),
    "the docs": ("/docs", {}, PRICE),
    "a file of the docs": ("/docs/start.js", {}, PRICE),
}
WRONG: dict[str, tuple[str, dict[str, Any], str]] = {
    "no such rate": ("/v1/rates/materials/no-such", {}, COST),
    "no such kind": ("/v1/rates/no-such", {}, COST),
    "no such path": ("/v1/no-such", {}, COST),
    "a wrong cell": (CELL, {"params": {"quantity": "x"}}, COST),
    "an unlisted sku": (CELL, {"params": {"sku": "a", "quantity": 1}}, COST),
    "a form that is not offered": ("/v1/rates", {"headers": {"Accept": "image/png"}}, COST),
}
UNTAGGED: dict[str, tuple[str, dict[str, Any], str]] = {"health": ("/health", {}, COST)}
EVERY = {**TAGGED, **UNTAGGED, **WRONG}


def with_header(sent: dict[str, Any], name: str, value: str) -> dict[str, Any]:
    return {**sent, "headers": {**sent.get("headers", {}), name: value}}


KNOWN: dict[str, Callable[[str], str]] = {
    "strong": lambda tag: tag,
    "weak, as a compressing proxy makes it": lambda tag: f"W/{tag}",
    "among others": lambda tag: f'"a", {tag}, "b"',
    "weak among others": lambda tag: f'"a",W/{tag}',
    "spaced": lambda tag: f"  {tag}  ",
    "any": lambda _: "*",
}
OTHER: dict[str, Callable[[str], str]] = {
    "none": lambda _: "",
    "another": lambda _: '"r0@2020-01-01"',
    "without its quotes": lambda tag: tag.strip('"'),
    "longer": lambda tag: f'"x{tag[1:]}',
    "cut": lambda tag: tag[:-2] + '"',
}


@pytest.mark.parametrize("written", KNOWN.values(), ids=KNOWN)
@pytest.mark.parametrize(("path", "sent"), [each[:2] for each in TAGGED.values()], ids=TAGGED)
def test_who_has_the_answer_is_told_only_that(
    shop: Door, path: str, sent: dict[str, Any], written: Callable[[str], str]
) -> None:
    first = shop.ask("GET", path, "cost", **sent)
    condition = with_header(sent, "If-None-Match", written(first.headers["etag"]))
    for method in ("GET", "HEAD"):
        again = shop.ask(method, path, "cost", **condition)
        assert (again.status_code, again.content) == (304, b"")
        for name in ("etag", "vary", "cache-control"):
            assert again.headers[name] == first.headers[name]
        assert (
            again.headers.get("content-length", first.headers["content-length"])
            == (first.headers["content-length"])
        )


@pytest.mark.parametrize("written", OTHER.values(), ids=OTHER)
@pytest.mark.parametrize(("path", "sent"), [each[:2] for each in TAGGED.values()], ids=TAGGED)
def test_who_has_another_answer_is_told_all(
    shop: Door, path: str, sent: dict[str, Any], written: Callable[[str], str]
) -> None:
    first = shop.ask("GET", path, "cost", **sent)
    condition = with_header(sent, "If-None-Match", written(first.headers["etag"]))
    again = shop.ask("GET", path, "cost", **condition)
    assert (again.status_code, again.content) == (200, first.content)


def test_tags_on_several_lines_are_one_list(shop: Door) -> None:
    tag = shop.ask("GET", "/v1/rates", "cost").headers["etag"]
    key = ("Authorization", f"Bearer {secret('cost')}")
    lines = [key, ("If-None-Match", '"a"'), ("If-None-Match", tag)]
    assert (
        shop.send(httpx.Request("GET", f"http://{BOUND}/v1/rates", headers=lines)).status_code
        == 304
    )


def test_a_condition_opens_nothing(shop: Door) -> None:
    any_tag: dict[str, Any] = {"headers": {"If-None-Match": "*"}}
    assert shop.ask("GET", "/v1/rates", **any_tag).status_code == 401
    assert shop.ask("GET", "/v1/rates", "price", **any_tag).status_code == 403
    assert shop.ask("GET", "/v1/rates/no-such", "cost", **any_tag).status_code == 404
    answer = shop.ask("POST", "/v1/quotes", "cost", json=HERB_PLANTER, **any_tag)
    assert answer.status_code == 200


def test_each_form_of_an_answer_has_a_tag_of_its_own(shop: Door) -> None:
    forms = [JSON, "text/csv", "text/plain"]
    answers = [
        shop.ask("GET", CELL, "cost", **with_header(CELLS, "Accept", form)) for form in forms
    ]
    assert [answer.headers["content-type"].partition(";")[0] for answer in answers] == forms
    assert len({answer.headers["etag"] for answer in answers}) == 3


@pytest.mark.parametrize(("path", "sent", "cached"), EVERY.values(), ids=EVERY)
def test_every_answer_says_what_it_varies_by_and_who_may_keep_it(
    shop: Door, path: str, sent: dict[str, Any], cached: str
) -> None:
    answer = shop.ask("GET", path, "cost", **sent)
    assert answer.headers["vary"] == "Accept, Authorization"
    assert answer.headers["cache-control"] == cached


@pytest.mark.parametrize(("view", "cached"), [("cost", COST), ("price", PRICE)])
def test_quotes_may_be_kept_as_their_view_says(shop: Door, view: str, cached: str) -> None:
    for path, sent in (("/v1/quotes", HERB_PLANTER), ("/v1/quotes/batch", {"requests": [{}]})):
        for accept in (JSON, "*/*"):
            headers = {"Accept": accept}
            answer = shop.ask("POST", f"{path}?view={view}", "cost", json=sent, headers=headers)
            assert answer.headers["cache-control"] == cached
            assert answer.headers["vary"] == "Accept, Authorization"


@pytest.mark.parametrize(("path", "sent"), [each[:2] for each in EVERY.values()], ids=EVERY)
@pytest.mark.parametrize("key", [None, "price", "cost"])
def test_head_answers_as_get_does_without_the_body(
    shop: Door, path: str, sent: dict[str, Any], key: str | None
) -> None:
    got, head = (shop.ask(method, path, key, **sent) for method in ("GET", "HEAD"))
    assert (head.status_code, head.content) == (got.status_code, b"")
    ids = {answer.headers.pop("X-Request-Id") for answer in (got, head)}
    assert len(ids) == 2
    assert dict(head.headers) == dict(got.headers)


@pytest.mark.parametrize("path", sorted({path for path, _, _ in EVERY.values()} - {"/v1/no-such"}))
@pytest.mark.parametrize("key", [None, "price", "cost", "expired"])
def test_options_says_what_can_be_asked(shop: Door, path: str, key: str | None) -> None:
    answer = shop.ask("OPTIONS", path, key)
    assert (answer.status_code, answer.content) == (204, b"")
    writes = {"PUT", "DELETE"} if path.count("/") == 4 else set()
    assert set(answer.headers["allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", *writes}

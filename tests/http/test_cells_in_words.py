"""What a cell is told in words, with a comma, and again: never a number that is none."""

from pathlib import Path
from typing import Any

import httpx
import pytest

from gramhour_service.http.asking import NO_GOOD_KEY
from gramhour_service.http.examples import ONE_PIECE
from gramhour_service.http.settings import Settings
from tests.http.door import BOUND, JSON, Door, opened, problem_type

PATH = "/v1/unit-price"
NO_KEY = "error: send a key: Authorization: Bearer KEY"


def ask(door: Door, key: str | None = "cost", method: str = "GET", **query: Any) -> httpx.Response:
    return door.ask(method, PATH, key, params={**ONE_PIECE, "errors": "text", **query})


@pytest.mark.parametrize(
    ("query", "words"),
    [
        (
            {"mass_g": "2,5"},
            "error: mass_g: must have a decimal point, as in 12.50, no comma: not '2,5'",
        ),
        ({"quantity": "2,5"}, "error: quantity: must be a whole number, not '2,5'"),
        ({"quantity": "0"}, "error: quantity: must be from 1 to 100000, not 0"),
        (
            {"material": "asa-gren"},
            "error: material: unknown code 'asa-gren': the sheet has none such in materials; "
            "did you mean 'asa-green'?",
        ),
        (
            {"print_min": "x", "reject_pct": "x", "unit_min": "x", "build_min": "x"},
            "error: print_min: must be a plain decimal number such as 12.50, not 'x'; "
            "build_min: must be a plain decimal number such as 12.50, not 'x'; "
            "unit_min: must be a plain decimal number such as 12.50, not 'x'; and 1 more",
        ),
        ({"qty": 3}, "error: qty: unknown parameter"),
        ({"margin_pct": "99.9"}, "error: "),
    ],
    ids=["grams", "fraction", "nothing", "code", "many", "name", "aim"],
)
def test_a_refusal_is_told_in_a_line_of_words_that_is_no_number(
    shop: Door, query: dict[str, Any], words: str
) -> None:
    answer = ask(shop, **query)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert answer.text.startswith(words)
    assert "\n" not in answer.text
    assert answer.headers["cache-control"] == "no-store"
    assert "etag" not in answer.headers
    assert ask(shop, method="HEAD", **query).status_code == 200
    without = {**ONE_PIECE, **query}
    assert shop.ask("GET", PATH, "cost", params=without).status_code == 422


def test_a_price_is_the_same_with_words_for_errors_and_without(shop: Door) -> None:
    assert ask(shop).text == shop.ask("GET", PATH, "cost", params=ONE_PIECE).text == "7.90"


@pytest.mark.parametrize(
    ("key", "words"),
    [
        (None, NO_KEY),
        ("revoked", f"error: {NO_GOOD_KEY}"),
        ("operate", "error: this needs a key with scope price"),
    ],
)
def test_whoever_is_not_let_in_reads_why(shop: Door, key: str | None, words: str) -> None:
    assert (ask(shop, key).status_code, ask(shop, key).text) == (200, words)


def test_a_sku_that_is_not_listed_is_told_in_words(shop: Door) -> None:
    query = {"sku": "HP-9", "quantity": 1, "errors": "text"}
    answer = shop.ask("GET", PATH, "price", params=query)
    assert answer.text == "error: sku: nothing is listed under it for this key"


@pytest.mark.parametrize("form", [JSON, "text/csv", "image/png"])
def test_who_wants_another_form_gets_a_problem_as_ever(shop: Door, form: str) -> None:
    query = {**ONE_PIECE, "errors": "text", "quantity": 0}
    answer = shop.ask("GET", PATH, "cost", params=query, headers={"Accept": form})
    assert answer.status_code == (406 if form == "image/png" else 422)
    assert problem_type(answer) == ("not-acceptable" if form == "image/png" else "invalid-request")


@pytest.mark.parametrize(
    ("name", "value"),
    [("errors", "txt"), ("errors", ""), ("decimal", "dot"), ("again", "x" * 101)],
)
def test_a_word_that_is_not_known_is_refused(shop: Door, name: str, value: str) -> None:
    answer = shop.ask("GET", PATH, "cost", params={**ONE_PIECE, name: value})
    assert (answer.status_code, problem_type(answer)) == (422, "invalid-request")
    assert answer.json()["errors"][0]["parameter"] == name


def test_two_words_for_errors_are_refused_as_a_problem(shop: Door) -> None:
    query = [*ONE_PIECE.items(), ("errors", "text"), ("errors", "text")]
    assert shop.ask("GET", PATH, "cost", params=query).status_code == 422


def test_a_number_has_a_comma_for_who_asks_for_one(shop: Door) -> None:
    assert ask(shop, decimal="comma").text == "7,90"
    assert ask(shop, decimal="point").text == "7.90"
    query = {**ONE_PIECE, "decimal": "comma"}
    rows = shop.ask("GET", PATH, "cost", params=query, headers={"Accept": "text/csv"}).text
    assert rows.splitlines()[1].startswith('1,"')
    refused = shop.ask("GET", PATH, "cost", params=query, headers={"Accept": JSON})
    assert refused.json()["errors"] == [
        {"detail": "JSON has decimal points; leave this out", "parameter": "decimal"}
    ]


def test_a_comma_that_comes_in_is_refused_whatever_is_asked_for(shop: Door) -> None:
    assert ask(shop, decimal="comma", mass_g="2,5").text.startswith("error: mass_g: must have a")


def test_asking_again_gives_the_same_number(shop: Door) -> None:
    assert {ask(shop, again=n).text for n in (1, "two", "")} == {"7.90"}


def test_only_get_counts_where_a_limit_is_and_the_limit_is_told_in_words(shop_path: Path) -> None:
    way = Settings(store=shop_path, public_quotes=True, quotes_a_minute=2)
    with opened(way) as door:
        query = {"sku": "HP-9", "quantity": 1, "errors": "text"}
        for _ in range(2):
            assert door.ask("OPTIONS", PATH, params=query).status_code == 204
            assert door.ask("HEAD", PATH, params=query).status_code == 200
            assert door.ask("HEAD", PATH, params=query).status_code == 200
            told = door.ask("GET", PATH, params=query).text
            assert told == "error: sku: nothing is listed under it for this key"
        answer = door.ask("GET", PATH, params=query)
        assert answer.text == "error: ask less often; Retry-After says when to go on"
        assert int(answer.headers["retry-after"]) >= 1
        assert door.ask("OPTIONS", PATH, params=query).status_code == 204


def test_a_cell_that_came_through_a_proxy_reads_why_it_is_none(shop_path: Path) -> None:
    with opened(Settings(store=shop_path, cells_from=frozenset({BOUND}))) as door:
        query = {**ONE_PIECE, "errors": "text"}
        assert door.ask("GET", PATH, params=query).text == "7.90"
        answer = door.ask("GET", PATH, params=query, headers={"Via": "1.1 proxy"})
        assert answer.text == "error: cells may ask from this machine itself only"


def test_without_rates_a_cell_is_told_what_the_shop_has_to_do(tmp_path: Path) -> None:
    with opened(
        Settings(store=tmp_path / "none-yet.sqlite", cells_from=frozenset({BOUND}))
    ) as door:
        told = ask(door, None).text
    assert told == (
        "error: this service has no rates yet; whoever keeps it imports some: "
        "gramhour rates import SHEET"
    )

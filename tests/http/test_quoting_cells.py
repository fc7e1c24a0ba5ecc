"""GET /v1/unit-price says what the same request says as a quote, in a spreadsheet's forms."""

import csv
import io
from typing import Any

import pytest

from tests.http.door import JSON, Door, problem_of

CELL = "/v1/unit-price"
COLUMNS = ["quantity", "unit_price", "unit_price_net", "order_goods", "order_postage", "order_net",
           "order_tax", "order_gross"]  # fmt: skip
CASES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "grams": (
        {"material": "asa-green", "mass_g": "42.5", "machine": "large", "print_min": 95,
         "channel": "own-shop", "quantity": 10},
        {"product": {"pieces": [{"machine": "large", "print_min": 95, "feed": [
            {"material": "asa-green", "mass_g": "42.5"}]}]},
         "channel": "own-shop", "quantity": 10}),
    "everything by volume": (
        {"material": "petg-clear", "volume_cm3": "310", "per_build_g": "2.5", "machine": "small-1",
         "nozzle": "n06", "print_min": "390.5", "per_build_min": 6, "pieces_per_build": 6,
         "order_min": 4, "build_min": 3, "unit_min": "1.5", "reject_pct": 2, "channel": "trade",
         "quantity": 12, "breaks": "24,6,48", "markup_pct": "66.6", "discount_pct": 5,
         "rates_revision": 1, "rates_on": "2026-12-24", "valid_days": 3},
        {"product": {
            "pieces": [{"machine": "small-1", "nozzle": "n06", "print_min": "390.5",
                        "per_build_min": 6, "pieces_per_build": 6, "feed": [
                            {"material": "petg-clear", "volume_cm3": "310",
                             "per_build_g": "2.5"}]}],
            "work": {"order_min": 4, "build_min": 3, "unit_min": "1.5"}, "reject_pct": 2},
         "channel": "trade", "quantity": 12, "breaks": [24, 6, 48], "aim": {"markup_pct": "66.6"},
         "discount_pct": 5, "rates_revision": 1, "rates_on": "2026-12-24", "valid_days": 3}),
    "a length, at a given price": (
        {"material": "pla-chalk", "length_m": 24.6, "machine": "small-2", "print_min": 120,
         "channel": "market", "quantity": 1, "breaks": "", "unit_price": "9.90"},
        {"product": {"pieces": [{"machine": "small-2", "print_min": 120, "feed": [
            {"material": "pla-chalk", "length_m": "24.6"}]}]},
         "channel": "market", "quantity": 1, "breaks": [], "aim": {"unit_price": "9.90"}}),
}  # fmt: skip


@pytest.mark.parametrize(("cell", "body"), CASES.values(), ids=CASES)
@pytest.mark.parametrize("view", ["cost", "price"])
def test_a_cell_as_json_is_the_quote(
    shop: Door, cell: dict[str, Any], body: dict[str, Any], view: str
) -> None:
    quote = shop.ask("POST", f"/v1/quotes?view={view}", "cost", json=body)
    assert quote.status_code == 200, quote.text
    sent: dict[str, Any] = {"params": {**cell, "view": view}, "headers": {"Accept": JSON}}
    answer = shop.ask("GET", CELL, "cost", **sent)
    assert answer.headers["content-type"] == JSON
    assert answer.content == quote.content


@pytest.mark.parametrize(("cell", "body"), CASES.values(), ids=CASES)
@pytest.mark.parametrize("accept", [None, "*/*", "text/*", "text/plain", "text/csv;q=0.5, */*"])
def test_a_cell_is_one_number_with_a_decimal_point(
    shop: Door, cell: dict[str, Any], body: dict[str, Any], accept: str | None
) -> None:
    quote = shop.ask("POST", "/v1/quotes", "cost", json=body).json()
    headers = {} if accept is None else {"Accept": accept}
    answer = shop.ask("GET", CELL, "cost", params=cell, headers=headers)
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert answer.text == quote["at_quantity"]["unit_price"]


@pytest.mark.parametrize(("cell", "body"), CASES.values(), ids=CASES)
def test_a_cell_as_csv_has_a_row_a_quantity(
    shop: Door, cell: dict[str, Any], body: dict[str, Any]
) -> None:
    quote = shop.ask("POST", "/v1/quotes", "cost", json=body).json()
    answer = shop.ask("GET", CELL, "cost", params=cell, headers={"Accept": "text/csv"})
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    head, *rows = csv.reader(io.StringIO(answer.text, newline=""))
    assert head == COLUMNS
    priced = {each["quantity"]: each for each in [quote["at_quantity"], *quote["breaks"]]}
    assert rows == [
        [str(priced[quantity][column]) for column in COLUMNS] for quantity in sorted(priced)
    ]
    assert answer.content.count(b"\r\n") == len(rows) + 1  # RFC 4180


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"channel": "markt"}, "channel"),
        ({"mass_g": "42,5"}, "mass_g"),
        ({"mass_g": "1e9999"}, "mass_g"),
        ({"length_m": 1}, "mass_g"),
        ({"mass_g": None}, "mass_g"),
        ({"breaks": "1;5"}, "breaks"),
        ({"breaks": "1,,5"}, "breaks"),
        ({"breaks": ",".join(map(str, range(1, 52)))}, "breaks"),
        ({"breaks": "1," + "9" * 5000}, "breaks"),
        ({"quantity": "1.5"}, "quantity"),
        ({"quantity": "0"}, "quantity"),
        ({"quantity": "٣"}, "quantity"),
        ({"quantity": None}, "quantity"),
        ({"margin_pct": 40, "markup_pct": 80}, "margin_pct"),
        ({"unit_price": "1.005"}, "unit_price"),
        ({"per_build_g": "43"}, "per_build_g"),
        ({"rates_revision": 99}, "rates_revision"),
        ({"sku": "a"}, "material"),
    ],
    ids=str,
)
def test_a_fault_of_a_cell_names_its_parameter(
    shop: Door, changed: dict[str, Any], named: str
) -> None:
    cell = {**CASES["grams"][0], **changed}
    query = {name: value for name, value in cell.items() if value is not None}
    kind, faults = problem_of(shop.ask("GET", CELL, "cost", params=query))
    assert kind == "invalid-request"
    assert named in {fault["parameter"] for fault in faults}


@pytest.mark.parametrize("query", [{}, {"quantity": 1}, {"quantity": 1, "channel": "own-shop"}])
def test_a_price_key_that_names_no_sku_is_told_so(shop: Door, query: dict[str, Any]) -> None:
    kind, faults = problem_of(shop.ask("GET", CELL, "price", params=query))
    assert kind == "invalid-request"
    assert "sku" in {fault.get("parameter") for fault in faults}


def test_a_cell_may_say_from_when_its_order_counts(shop: Door) -> None:
    def ready(moment: str) -> str:
        told = shop.ask(
            "GET",
            CELL,
            "cost",
            params={**CASES["grams"][0], "from": moment},
            headers={"Accept": JSON},
        )
        assert told.status_code == 200, told.text
        day: str = told.json()["lead_time"]["ready_on"]
        return day

    assert ready("2026-12-01T09:00:00+01:00") < ready("2026-12-08T09:00:00+01:00")
    wrong = shop.ask("GET", CELL, "cost", params={**CASES["grams"][0], "from": "tomorrow"})
    assert [fault["parameter"] for fault in problem_of(wrong)[1]] == ["from"]


def test_a_price_key_says_nothing_of_a_filament_beside_a_sku(shop: Door) -> None:
    told = shop.ask("GET", CELL, "price", params={"sku": "X", "quantity": 1, "material": "x"})
    assert (told.status_code, problem_of(told)[0]) == (403, "member-not-allowed")

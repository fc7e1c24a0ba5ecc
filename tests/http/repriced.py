"""Shorthand for repricing the demo's shop as a caller does, and for quoting the same apart."""

import time
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
from msgspec import json

from gramhour.contract.documents import parse_toml
from tests import demo
from tests.http.door import Door, shop_with
from tests.http.offering import CSV, LISTINGS, PRODUCTS, post_rows

REPRICINGS, QUOTES = "/v1/repricings", "/v1/quotes"
SHOP = demo.FOLDER / "shop"
PATIENCE, BETWEEN_LOOKS = 120.0, 0.05
"""Seconds: a run takes less than one, but tests share their machine."""
Sheet = dict[str, Any]
Figures = tuple[Decimal, Decimal]
"""A unit's cost and its shown price."""


def as_sent(value: Any) -> Any:
    """Write a document as JSON has it, amounts as texts."""
    return json.decode(json.encode(value))


def demo_sheet() -> Sheet:
    """Write the demo's rates as a request brings its own."""
    sheet: Sheet = as_sent(parse_toml(demo.SHEET.read_bytes()))
    return sheet


def demo_products() -> dict[str, Any]:
    """List the demo's products with their variants, by code."""
    variants = as_sent(parse_toml((SHOP / "variants.toml").read_bytes()))
    return {
        code: {"product": as_sent(demo.request(code))["product"], "variants": swaps}
        for code, swaps in variants.items()
    }


def stock(door: Door) -> None:
    """Put the demo's products and listings into a shop."""
    rows = [{"code": code, **entry} for code, entry in demo_products().items()]
    assert post_rows(door, rows, path=PRODUCTS).status_code == 200
    listings = (SHOP / "listings.csv").read_bytes()
    assert post_rows(door, listings, CSV).status_code == 200


def describe(door: Door, code: str, product: dict[str, Any], *variants: Any) -> None:
    """Put a product."""
    row = {"code": code, "product": product, "variants": [*variants]}
    answer = post_rows(door, [row], path=PRODUCTS)
    assert answer.status_code == 200, answer.text


def listed(door: Door, *rows: dict[str, Any]) -> None:
    """Put listings."""
    answer = post_rows(door, rows)
    assert answer.status_code == 200, answer.text


def ask(door: Door, word: str | None = None, **asked: Any) -> httpx.Response:
    """Ask for a repricing, under a word if one is given."""
    headers = {} if word is None else {"Idempotency-Key": word}
    return door.ask("POST", REPRICINGS, "listings", json=asked, headers=headers)


def told(door: Door, name: str) -> Any:
    """Read a repricing."""
    answer = door.ask("GET", f"{REPRICINGS}/{name}", "listings")
    assert answer.status_code == 200, answer.text
    return answer.json()


def finished(door: Door, answer: httpx.Response) -> Any:
    """Wait for a repricing that was asked for, and read it."""
    assert answer.status_code in (201, 202), answer.text
    now, until = answer.json(), time.monotonic() + PATIENCE
    while now["state"] == "running" and time.monotonic() < until:
        time.sleep(BETWEEN_LOOKS)
        now = told(door, now["id"])
    assert now["state"] == "finished", now
    return now


def repriced(door: Door, **asked: Any) -> Any:
    """Reprice."""
    return finished(door, ask(door, **asked))


def page_of(door: Door, name: str, **query: Any) -> Any:
    """Read a page of lines."""
    answer = door.ask("GET", f"{REPRICINGS}/{name}/lines", "listings", params=query)
    assert answer.status_code == 200, answer.text
    return answer.json()


def lines_of(door: Door, name: str, **query: Any) -> list[Any]:
    """Read the lines of a short repricing, as they are told."""
    page = page_of(door, name, limit=1000, **query)
    assert "next_cursor" not in page
    lines: list[Any] = page["items"]
    return lines


def by_sku(door: Door, name: str) -> dict[str, Any]:
    """Read the lines of a short repricing by their skus."""
    return {line["sku"]: line for line in lines_of(door, name)}


def only_line(door: Door, **asked: Any) -> Any:
    """Reprice what comes to one line, and read it."""
    (line,) = lines_of(door, repriced(door, **asked)["id"])
    return line


def looked_at(door: Door, **asked: Any) -> list[str]:
    """Name the listings that a repricing computes."""
    return sorted(by_sku(door, repriced(door, **asked)["id"]))


def applied(
    door: Door, name: str, word: str | None = None, key: str = "listings", **sent: Any
) -> httpx.Response:
    """Apply a repricing, under a word if one is given; ``but`` are the listings left out."""
    headers = {} if word is None else {"Idempotency-Key": word}
    if "but" in sent:
        sent["except"] = sent.pop("but")
    path = f"{REPRICINGS}/{name}/apply"
    return door.ask("POST", path, key, json=sent, headers=headers)


def apply(door: Door, name: str, **sent: Any) -> Any:
    """Apply a repricing, however far prices move."""
    answer = applied(door, name, **{"max_change_pct": "1000", **sent})
    assert answer.status_code == 200, answer.text
    return answer.json()


def list_prices(door: Door, **asked: Any) -> Any:
    """Reprice and apply all of it."""
    return apply(door, repriced(door, **asked)["id"])


def all_priced(path: Path) -> Path:
    """Make a store of the demo's shop, every listing priced."""

    def put(door: Door) -> None:
        stock(door)
        list_prices(door)

    return shop_with(path, "all of the demo's, priced", put)


def listing_of(door: Door, sku: str) -> Any:
    """Read a listing with its prices."""
    answer = door.ask("GET", f"{LISTINGS}/{sku}", "cost")
    assert answer.status_code == 200, answer.text
    return answer.json()


def prices_of(door: Door, sku: str) -> dict[int, str] | None:
    """Read the listed prices of a sku today by their quantities, if it has any."""
    price = listing_of(door, sku).get("price")
    return price and {each["from_quantity"]: each["unit_price"] for each in price["breaks"]}


def quoted(door: Door, **asked: Any) -> Any:
    """Ask for a quote in the cost view."""
    answer = door.ask("POST", QUOTES, "cost", json=asked, params={"view": "cost"})
    assert answer.status_code == 200, answer.text
    return answer.json()


def product_listed(row: dict[str, Any], products: dict[str, Any]) -> Any:
    """Describe what a row lists: the product, other filaments in place of its own by its variant.

    Written apart from the service, which does the same.
    """
    entry = products[row["product"]]
    if "variant" not in row:
        return entry["product"]
    (swaps,) = (v["materials"] for v in entry["variants"] if v["name"] == row["variant"])
    pieces = [
        {**piece, "feed": [{**f, "material": swaps.get(f["material"], f["material"])}
                           for f in piece["feed"]]}
        for piece in entry["product"]["pieces"]
    ]  # fmt: skip
    return {**entry["product"], "pieces": pieces}


def quoted_as_listed(
    door: Door, row: dict[str, Any], products: dict[str, Any], breaks: Iterable[int], **more: Any
) -> dict[int, Any]:
    """Quote what a row lists at some quantities, by hand; ``more`` has the rates, say."""
    breaks = [*breaks]
    asked = {"product": product_listed(row, products), "channel": row["channel"]}
    if "aim" in row:
        asked["aim"] = row["aim"]
    # at most 50 breaks are computed at once
    return {
        each["quantity"]: each
        for n in range(0, len(breaks), 50)
        for each in quoted(door, **asked, quantity=breaks[n], breaks=breaks[n : n + 50], **more)[
            "breaks"
        ]
    }


def figures(quote: Any) -> Figures:
    """Read a unit's cost and its shown price."""
    return Decimal(quote["unit_cost"]), Decimal(quote["unit_price"])


def minus(one: Figures, other: Figures) -> Figures:
    return one[0] - other[0], one[1] - other[1]


def of_effect(effect: Any) -> Figures:
    """Read an effect; one that is not told is none."""
    return (Decimal(0), Decimal(0)) if effect is None else figures(effect)


def rows_listed(door: Door) -> dict[str, Any]:
    """Read all listings of a small shop by their skus."""
    answer = door.ask("GET", LISTINGS, "cost", params={"limit": 1000})
    assert answer.status_code == 200, answer.text
    return {each["sku"]: each["listing"] for each in answer.json()["items"]}

"""Shorthand for putting products and listings into the demo's shop, as a caller does."""

from collections.abc import Iterable
from json import dumps
from typing import Any

import httpx

from tests.http.asking import refused
from tests.http.door import JSON, NDJSON, Door

CSV = "text/csv"
PRODUCTS, LISTINGS = "/v1/products", "/v1/listings"
POT = f"{PRODUCTS}/pot"
POT_AS_DESCRIBED: dict[str, Any] = {
    "name": "Herb pot",
    "pieces": [{"machine": "large", "nozzle": "n08", "print_min": "380",
                "feed": [{"material": "asa-green", "mass_g": "140"}]}],
    "work": {"unit_min": "4"},
}  # fmt: skip
IN_CHALK = {"name": "chalk", "materials": {"asa-green": "pla-chalk"}}
POT_ENTRY: dict[str, Any] = {"product": POT_AS_DESCRIBED, "variants": [IN_CHALK]}
IN_SHOP: dict[str, Any] = {"product": "pot", "channel": "own-shop"}
WHOLE: dict[str, Any] = {
    "sku": "P-1", "name": "Pot", "product": "pot", "variant": "chalk", "channel": "own-shop",
    "aim": {"margin_pct": "40.50"}, "breaks": [1, 10], "margin_floor_pct": "-5", "hold": True,
    "note": "for the fair",
}  # fmt: skip
NO_CHANNEL = "unknown code 'own-shp': the sheet has none such in channels; did you mean 'own-shop'?"
AT = "2026-12-01T09:00:00+00:00"
"""The moment of all that the tests do."""
BY_LISTINGS = f"changed by listings at {AT}"


def put_entry(
    door: Door, path: str, value: Any, headers: dict[str, str], **query: str
) -> httpx.Response:
    """Put a product or a listing."""
    sent = {"Content-Type": JSON, **headers}
    return door.ask("PUT", path, "listings", content=dumps(value), headers=sent, params=query)


def take_away(door: Door, path: str, headers: dict[str, str]) -> httpx.Response:
    """Take a product or a listing away."""
    return door.ask("DELETE", path, "listings", headers=headers)


def post_rows(
    door: Door,
    rows: Iterable[Any] | str | bytes,
    form: str = JSON,
    path: str = LISTINGS,
    word: str | None = None,
    **query: str,
) -> httpx.Response:
    """Send rows, under a word if one is given: a list as JSON or NDJSON, a text as it stands."""
    content = _written(rows, form)
    headers = {"Content-Type": form} | ({} if word is None else {"Idempotency-Key": word})
    return door.ask("POST", path, "listings", content=content, headers=headers, params=query)


def _written(rows: Iterable[Any] | str | bytes, form: str) -> str | bytes:
    if isinstance(rows, str | bytes):
        return rows
    if form == NDJSON:
        return "".join(f"{dumps(row)}\n" for row in rows)
    return dumps({"items": [*rows]})


def done(answer: httpx.Response) -> list[tuple[str, str, int]]:
    """Say what became of each row: its name, what was done, its version."""
    assert answer.status_code == 200, answer.text
    told = answer.json()
    rows = [(row["name"], row["done"], row["version"]) for row in told["rows"]]
    assert [row["row"] for row in told["rows"]] == [*range(1, len(rows) + 1)]
    words = ("added", "changed", "unchanged", "refused")
    assert told == {
        **{word: sum(row[1] == word for row in rows) for word in words},
        "rows": told["rows"],
    }
    return rows


def in_lines(answer: httpx.Response) -> list[tuple[int, str]]:
    """Say the line of each fault of rows, and what it is."""
    assert refused(answer)[0] == "invalid-request"
    return [(fault["line"], fault["detail"]) for fault in answer.json()["errors"]]


def make_pot(door: Door) -> None:
    """Describe the pot."""
    assert put_entry(door, POT, POT_ENTRY, {"If-None-Match": "*"}).status_code == 201


def list_rows(door: Door, *rows: dict[str, Any]) -> None:
    """Put rows, all of them listings of the pot in the own shop unless they say otherwise."""
    assert post_rows(door, [{**IN_SHOP, **row} for row in rows]).status_code == 200


def read(door: Door, path: str, form: str = JSON, **query: str) -> httpx.Response:
    """Read something as the shop does."""
    answer = door.ask("GET", path, "cost", headers={"Accept": form}, params=query)
    assert answer.status_code == 200, answer.text
    return answer


def skus(door: Door, **query: str) -> list[str]:
    """Name the listings."""
    return [each["sku"] for each in read(door, LISTINGS, **query).json()["items"]]


def of_pot(sku: str, **more: Any) -> dict[str, Any]:
    """Write a row of the pot in the own shop."""
    return {"sku": sku, **IN_SHOP, **more}


def listing_of(door: Door, sku: str) -> Any:
    """Read a listing as it was sent."""
    return read(door, f"{LISTINGS}/{sku}").json()["listing"]

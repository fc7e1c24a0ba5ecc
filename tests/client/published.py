"""Writes one answer of each kind into ``openapi/examples``, from the demo shop at a fixed moment.

``python -m tests.client.published`` writes them; a test compares. Old ones stay readable: an
answer that the kept file of an earlier version would not be decoded from is a broken contract.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from types import NoneType
from typing import Any, NamedTuple

import httpx
import msgspec

from gramhour import (
    Applied,
    BatchAnswer,
    Client,
    Comparison,
    Health,
    PriceBatchAnswer,
    PriceHistory,
    PriceQuote,
    Prices,
    Quote,
    Repricing,
    RepricingLines,
    Repricings,
    RevisionChanges,
    Revisions,
    RowOutcomes,
    SavedChanges,
    SavedRate,
    StoredKind,
    StoredListing,
    StoredListings,
    StoredProduct,
    StoredProducts,
    StoredRate,
    StoredRevision,
    StoredSheet,
    calls,
    calls_of_changes,
    calls_of_listings,
    calls_of_repricing,
)
from gramhour.batches import COST, PRICE, Line
from gramhour.building import build
from gramhour.calls import Call
from gramhour.contract.problem import Problem
from tests import demo
from tests.client.demand import NOZZLES, ONE_PIECE, PLANTER, now
from tests.client.listed import LISTING, PRODUCT

FOLDER = Path(__file__).parent.parent.parent / "openapi" / "examples"
A_PROBLEM = msgspec.json.Decoder(Problem).decode
WRONG = {**ONE_PIECE, "quantity": 0, "channel": "own-shp"}
LINES = [
    msgspec.json.encode({**ONE_PIECE, "reference": "row 1"}),
    msgspec.json.encode({**WRONG, "reference": "row 2"}),
]


class Published(NamedTuple):
    """An answer: its file, the call that it answers after others, and how its body is read."""

    file: str
    call: Call[Any]
    read: Callable[[bytes], Any]
    after: Sequence[Call[Any]] = ()


def _of(file: str, call: Call[Any], *after: Call[Any]) -> Published:
    return Published(file, call, call.decode, after)


def read_cost_lines(body: bytes) -> list[BatchAnswer]:
    return [COST.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


def read_price_lines(body: bytes) -> list[PriceBatchAnswer]:
    return [PRICE.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


A_DAY = date(2026, 12, 7)
DEARER_WORK = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
SPARE = calls_of_changes.put_rate(("nozzles", "n10"), {"price": "9.50"}, None, None, None, new=True)
CHANGE = calls_of_changes.change_rates([DEARER_WORK], 1, A_DAY, "wage agreement", trial=False)
CHEAPER_POWER = {"kind": "shop", "code": "price_per_kwh", "value": "0.29"}
OVERRULED = calls_of_changes.change_rates(
    [{**DEARER_WORK, "value": "33.00"}, CHEAPER_POWER], 2, None, None, trial=False
)

A_MOMENT = b"2026-12-01T09:30:01Z"
A_REPRICING = "0123456789abcdef"
"""Stands in what is published for the name of a repricing, which is made at random."""
REPRICINGS = "/v1/repricings"
PUT_PRODUCT = calls_of_listings.put_product("herb-planter", PRODUCT, None, new=True)
PUT_LISTING = calls_of_listings.put_listing("HP-1", LISTING, None, new=True)
LISTED = (PUT_PRODUCT, PUT_LISTING)
FIRST = calls_of_repricing.reprice({"note": "first prices"})
APPLY = calls_of_repricing.apply(A_REPRICING, {"note": "applied"})
PRICED = (*LISTED, FIRST, APPLY)
WHAT_IF = calls_of_repricing.reprice({"proposed": [DEARER_WORK, CHEAPER_POWER]})
SOME_ROWS: list[dict[str, Any]] = [
    {"sku": "HP-1", **LISTING},
    {"sku": "HP-2", **LISTING},
    {"sku": "HP-3", **LISTING, "channel": "own-shp"},
]
OF_THE_OFFER = [
    _of("products.json", calls_of_listings.products(None, None), PUT_PRODUCT),
    _of("product.json", calls_of_listings.product("herb-planter"), PUT_PRODUCT),
    _of("saved-product.json", PUT_PRODUCT),
    _of(
        "removed-product.txt",
        calls_of_listings.delete_product("herb-planter", '"v1"'),
        PUT_PRODUCT,
    ),
    _of(
        "product-rows.json",
        calls_of_listings.put_products([{"code": "herb-planter", **PRODUCT}], all_or_none=True),
    ),
    _of("listings.json", calls_of_listings.listings({}, None, None), *LISTED),
    _of("listing.json", calls_of_listings.listing("HP-1"), *PRICED),
    _of("saved-listing.json", PUT_LISTING, PUT_PRODUCT),
    _of("removed-listing.txt", calls_of_listings.delete_listing("HP-1", '"v1"'), *LISTED),
    _of("listing-rows.json", calls_of_listings.put_listings(SOME_ROWS, all_or_none=False), *LISTED),
    _of("listing-prices.json", calls_of_listings.listing_prices("HP-1", None, None), *PRICED),
    _of("prices.json", calls_of_listings.prices("own-shop", None, None, None), *PRICED),
    _of("started-repricing.json", FIRST, *LISTED),
    _of("repricing.json", calls_of_repricing.repricing(A_REPRICING), *PRICED),
    _of("repricings.json", calls_of_repricing.repricings(None, None), *LISTED, FIRST),
    _of(
        "repricing-lines.json",
        calls_of_repricing.repricing_lines(A_REPRICING, {}, None, None),
        *PRICED,
        WHAT_IF,
    ),
    _of("applied.json", APPLY, *LISTED, FIRST),
]
PUBLISHED = [
    *OF_THE_OFFER,
    _of("quote.json", calls.quote(PLANTER, explain=False)),
    _of("explained-quote.json", calls.quote(ONE_PIECE, explain=True)),
    _of("price-quote.json", calls.quote_price(PLANTER)),
    _of("comparison.json", calls.compare(NOZZLES)),
    Published("batch-answer.ndjson", calls.batch(LINES, "cost"), read_cost_lines),
    Published("price-batch-answer.ndjson", calls.batch(LINES, "price"), read_price_lines),
    _of(
        "unit-price.txt",
        calls.unit_price(
            10,
            {
                "material": "asa-green",
                "machine": "large",
                "mass_g": "42.5",
                "print_min": 95,
                "channel": "own-shop",
            },
        ),
    ),
    _of("stored-sheet.json", calls.rates(None, None)),
    _of("stored-kind.json", calls.rates_kind("materials", None, None)),
    _of("stored-shop.json", calls.rates_kind("shop", None, None)),
    _of("stored-rate.json", calls.rate("materials", "asa-green", None, None)),
    _of("health.json", calls.health()),
    _of("saved-changes.json", OVERRULED, CHANGE),
    _of("saved-rate.json", SPARE),
    _of(
        "removed-rate.txt",
        calls_of_changes.delete_rate(("nozzles", "n10"), '"r2@2026-12-01"', None, None),
        SPARE,
    ),
    _of("revisions.json", calls_of_changes.revisions(1, None), CHANGE),
    _of("revision.json", calls_of_changes.revision(2), CHANGE),
    _of("revision-changes.json", calls_of_changes.revision_changes(3, 1), CHANGE, OVERRULED),
    Published("problem.json", calls.quote(WRONG, explain=False), A_PROBLEM),
    Published("problem-of-parameters.json", calls.unit_price(0, {}), A_PROBLEM),
]
TYPES = {
    "quote.json": Quote,
    "explained-quote.json": Quote,
    "price-quote.json": PriceQuote,
    "comparison.json": Comparison,
    "unit-price.txt": Decimal,
    "stored-sheet.json": StoredSheet,
    "stored-kind.json": StoredKind,
    "stored-shop.json": StoredKind,
    "stored-rate.json": StoredRate,
    "health.json": Health,
    "saved-changes.json": SavedChanges,
    "saved-rate.json": SavedRate,
    "removed-rate.txt": NoneType,
    "revisions.json": Revisions,
    "revision.json": StoredRevision,
    "revision-changes.json": RevisionChanges,
    "products.json": StoredProducts,
    "product.json": StoredProduct,
    "saved-product.json": StoredProduct,
    "removed-product.txt": NoneType,
    "product-rows.json": RowOutcomes,
    "listings.json": StoredListings,
    "listing.json": StoredListing,
    "saved-listing.json": StoredListing,
    "removed-listing.txt": NoneType,
    "listing-rows.json": RowOutcomes,
    "listing-prices.json": PriceHistory,
    "prices.json": Prices,
    "started-repricing.json": Repricing,
    "repricing.json": Repricing,
    "repricings.json": Repricings,
    "repricing-lines.json": RepricingLines,
    "applied.json": Applied,
}


def answer(published: Published) -> bytes:
    """Ask a shop of its own, and give the body as it came; a document so that it can be read."""
    name = A_REPRICING
    with Client.local(rates=demo.SHEET, now=now) as client:
        for call in published.after:
            response = _asked(client, call, name)
            assert response.is_success
            if call.path == REPRICINGS:
                name = response.json()["id"]
        return _readable(_asked(client, published.call, name), name)


def _asked(client: Client, call: Call[Any], name: str) -> httpx.Response:
    """Ask, about the repricing of that name; one that is asked for is waited for."""
    about = replace(call, path=call.path.replace(A_REPRICING, name))
    request = build(client._http, client._caller, about)
    response = client._http.send(request)
    if call.method == "POST" and call.path == REPRICINGS:
        client.wait_for(response.json()["id"])
        response = client._http.send(request)  # under the same Idempotency-Key: the same one
    return response


def _readable(response: httpx.Response, name: str) -> bytes:
    media_type = response.headers.get("content-type", "")
    if not media_type.startswith(("application/json", "application/prob")) or not response.content:
        return response.content
    body = response.content.replace(name.encode(), A_REPRICING.encode())
    if b'"asked_by"' in body:  # a process of its own computed it, by the world's clock
        name = msgspec.json.decode(body).get("id", A_REPRICING)
        body = body.replace(name.encode(), A_REPRICING.encode())
        body = re.sub(rb'("finished_at":)"[^"]*"', rb'\1"%s"' % A_MOMENT, body)
    return msgspec.json.format(body, indent=1) + b"\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for published in PUBLISHED:
        (FOLDER / published.file).write_bytes(answer(published))


if __name__ == "__main__":
    main()

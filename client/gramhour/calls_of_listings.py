"""The calls for products, their listings and their prices, for both clients.

Like ``calls``, they know nothing of connections, keys or retries.
"""

from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import Any, TypeAlias, TypedDict

import msgspec

from gramhour.calls import JSON, NDJSON, Call, given, path_of, seen
from gramhour.contract.listing import Listing, ListingRow, ProductEntry, ProductRow
from gramhour.contract.prices import Prices
from gramhour.contract.stored_listing import (
    PriceHistory,
    RowOutcomes,
    StoredListing,
    StoredListings,
    StoredProduct,
    StoredProducts,
)
from gramhour.tolerant import read_json

Entry: TypeAlias = ProductEntry | Mapping[str, Any]
Listed: TypeAlias = Listing | Mapping[str, Any]
ProductRows: TypeAlias = Iterable[ProductRow | Mapping[str, Any]] | bytes
ListingRows: TypeAlias = Iterable[ListingRow | Mapping[str, Any]] | bytes
"""Rows as types of the contract or plain dicts; or as a file has them."""
CSV = "text/csv"
MARK = b"\xef\xbb\xbf"
MADE = (HTTPStatus.OK, HTTPStatus.CREATED)
FEW_ROWS = 1_000
"""So many are sent as one document, so that faults stand beside what was sent."""


class ListingFilter(TypedDict, total=False):
    """Which listings: on a channel, of a product, that use a rate, or are under their floor.

    ``uses`` is a kind and a code, such as ``materials/asa-green``.
    """

    channel: str
    product: str
    uses: str
    below_floor: bool


def products(limit: int | None, cursor: str | None) -> Call[StoredProducts]:
    """Ask for a page of the products."""
    return Call(
        method="GET",
        path="/v1/products",
        params=given(limit=limit, cursor=cursor),
        decode=lambda body: read_json(body, StoredProducts),
    )


def product(code: str) -> Call[StoredProduct]:
    """Ask for one product."""
    return Call(
        method="GET",
        path=path_of("/v1/products", code),
        decode=lambda body: read_json(body, StoredProduct),
    )


def put_product(code: str, entry: Entry, if_match: str | None, *, new: bool) -> Call[StoredProduct]:
    """Ask for a product to be changed or added. Raises ``TypeError`` if it is not said which."""
    return Call(
        method="PUT",
        path=path_of("/v1/products", code),
        headers=seen("product", if_match, new=new),
        body=msgspec.json.encode(entry),
        decode=lambda body: read_json(body, StoredProduct),
        statuses=MADE,
    )


def delete_product(code: str, if_match: str) -> Call[None]:
    """Ask for a product to be taken away."""
    return _delete(path_of("/v1/products", code), if_match)


def put_products(rows: ProductRows, *, all_or_none: bool) -> Call[RowOutcomes]:
    """Ask for several products to be added or changed."""
    return _put_rows("/v1/products", rows, all_or_none=all_or_none)


def listings(filters: ListingFilter, limit: int | None, cursor: str | None) -> Call[StoredListings]:
    """Ask for a page of the listings."""
    return Call(
        method="GET",
        path="/v1/listings",
        params=given(limit=limit, cursor=cursor) | _filter(filters),
        decode=lambda body: read_json(body, StoredListings),
    )


def listings_csv(filters: ListingFilter) -> Call[bytes]:
    """Ask for listings as CSV."""
    return Call(
        method="GET", path="/v1/listings", params=_filter(filters), accept=CSV, decode=bytes
    )


def listing(sku: str) -> Call[StoredListing]:
    """Ask for one listing."""
    return Call(
        method="GET",
        path=path_of("/v1/listings", sku),
        decode=lambda body: read_json(body, StoredListing),
    )


def put_listing(
    sku: str, listing: Listed, if_match: str | None, *, new: bool
) -> Call[StoredListing]:
    """Ask for a listing to be changed or added. Raises ``TypeError`` if it is not said which."""
    return Call(
        method="PUT",
        path=path_of("/v1/listings", sku),
        headers=seen("listing", if_match, new=new),
        body=msgspec.json.encode(listing),
        decode=lambda body: read_json(body, StoredListing),
        statuses=MADE,
    )


def delete_listing(sku: str, if_match: str) -> Call[None]:
    """Ask for a listing to be taken away."""
    return _delete(path_of("/v1/listings", sku), if_match)


def put_listings(rows: ListingRows, *, all_or_none: bool) -> Call[RowOutcomes]:
    """Ask for several listings to be added or changed."""
    return _put_rows("/v1/listings", rows, all_or_none=all_or_none)


def listing_prices(sku: str, limit: int | None, cursor: str | None) -> Call[PriceHistory]:
    """Ask for a page of the prices that a sku has had."""
    return Call(
        method="GET",
        path=f"{path_of('/v1/listings', sku)}/prices",
        params=given(limit=limit, cursor=cursor),
        decode=msgspec.json.Decoder(PriceHistory).decode,
    )


def prices(
    channel: str | None,
    changed_since: int | None,
    limit: int | None,
    cursor: str | None,
    *,
    seal: bool = False,
) -> Call[Prices]:
    """Ask for a page of what is for sale on a channel."""
    return Call(
        method="GET",
        path="/v1/prices",
        params=given(
            channel=channel,
            changed_since=changed_since,
            seal="true" if seal else None,
            limit=limit,
            cursor=cursor,
        ),
        decode=msgspec.json.Decoder(Prices).decode,
    )


def _put_rows(path: str, rows: Iterable[object] | bytes, *, all_or_none: bool) -> Call[RowOutcomes]:
    body, media_type = (rows, _media_type(rows)) if isinstance(rows, bytes) else _written(rows)
    return Call(
        method="POST",
        path=path,
        params={} if all_or_none else {"all_or_none": "false"},
        body=body,
        media_type=media_type,
        decode=msgspec.json.Decoder(RowOutcomes).decode,
        is_safe=False,
    )


def _media_type(text: bytes) -> str:
    """Say what a file's text is: lines of JSON objects, or a table."""
    return NDJSON if text.removeprefix(MARK).lstrip().startswith(b"{") else CSV


def _written(rows: Iterable[object]) -> tuple[bytes, str]:
    """Write rows as one document, or many as a line each."""
    listed = list(rows)
    if len(listed) <= FEW_ROWS:
        return msgspec.json.encode({"items": listed}), JSON
    return msgspec.json.Encoder().encode_lines(listed), NDJSON


def _delete(path: str, if_match: str) -> Call[None]:
    return Call(
        method="DELETE",
        path=path,
        headers={"If-Match": if_match},
        decode=lambda _: None,
        statuses=(HTTPStatus.NO_CONTENT,),
    )


def _filter(filters: ListingFilter) -> dict[str, str]:
    told = {name: value for name, value in filters.items() if value is not False}
    return given(**told | ({"below_floor": "true"} if "below_floor" in told else {}))

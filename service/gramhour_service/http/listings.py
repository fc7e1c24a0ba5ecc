"""GET, POST /v1/listings: what is for sale on which channel, and how its price is made."""

from collections.abc import Callable
from typing import Any

import msgspec
from litestar import Response
from litestar.response import Stream
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.listing import Listing, ListingRow
from gramhour.contract.stored_listing import RowOutcomes, StoredListings
from gramhour_service.http.entries import (
    ALL_OR_NONE,
    CURSOR,
    LIMIT,
    ROW_REFUSALS,
    Lay,
    Thing,
    check_number,
    page_asked,
    put_many,
    read_store,
    rows_of,
    rows_of_document,
    rows_of_lines,
)
from gramhour_service.http.examples import PLANTER_LISTING
from gramhour_service.http.forms_sent import MOST_ROWS, RATE_USED
from gramhour_service.http.once import IDEMPOTENCY_KEY
from gramhour_service.http.operation import BOOLEAN, CODE_TEXT, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    CSV,
    JSON,
    NDJSON,
    Asked,
    answered,
    media_type_sent,
    media_type_wanted,
    streamed,
    tag_of_body,
)
from gramhour_service.listings.csv_rows import laid_over, read_listing_rows
from gramhour_service.listings.exporting import listing_lines, listing_table
from gramhour_service.listings.keeping import listing_reader, put_listing
from gramhour_service.listings.told import told_listing
from gramhour_service.listings.variants import channels_packing
from gramhour_service.store.entries import Filter, entries_after
from gramhour_service.store.rates import Key

ROUTE = "/v1/listings"
ENCODER = msgspec.json.Encoder()
LISTING = Thing("listing", "listing", put_listing, lambda on: listing_reader(Listing, on))
FILTERS = (
    Parameter("channel", "only those on this channel", CODE_TEXT, example="own-shop"),
    Parameter("product", "only those of this product", CODE_TEXT),
    Parameter(
        "uses",
        "only those whose product, or channel, uses this rate",
        {"type": "string", "pattern": f"^{RATE_USED.pattern}$"},
        example="materials/asa-green",
    ),
    Parameter(
        "below_floor",
        "only those whose price of today was under its floor when it was applied",
        BOOLEAN,
    ),
)
NAMES = tuple(each.name for each in FILTERS)


@serves(
    "GET",
    ROUTE,
    Operation(
        summary="The listings",
        says=(
            "Listings in the order of their skus, a page at a time, each with its price of today "
            "and those planned. As NDJSON or CSV it is all of them, as they can be sent back."
        ),
        scope="cost",
        parameters=(LIMIT, CURSOR, *FILTERS),
        gives={JSON: StoredListings, NDJSON: {"type": "string"}, CSV: {"type": "string"}},
        refusals=("no-rates",),
        is_conditional=True,
    ),
)
async def listings(request: Asked) -> Response[bytes] | Stream:
    """List the listings."""
    parameters = Parameters(request, ("limit", "cursor", *NAMES))
    page, only = page_asked(parameters), _filter(request, parameters)
    parameters.check()
    shop: Shop = request.app.state.shop
    media_type = media_type_wanted(request, (JSON, NDJSON, CSV))
    if media_type != JSON:
        read_store(request, lambda _: None)
        write = listing_lines if media_type == NDJSON else listing_table
        return streamed(write(shop.read, only), media_type)

    def work(store: Database) -> StoredListings:
        entries = entries_after(store, "listing", page.after, page.limit + 1, only)
        return StoredListings(
            items=[told_listing(store, each, shop.today()) for each in entries[: page.limit]],
            next_cursor=entries[page.limit - 1].name if len(entries) > page.limit else UNSET,
        )

    body = ENCODER.encode(read_store(request, work))
    return answered(request, body, JSON, costs=True, tag=tag_of_body(body))


def _filter(request: Asked, parameters: Parameters) -> Filter:
    used = parameters.text("uses")
    rate = None if used is None else RATE_USED.fullmatch(used)
    if used is not None and rate is None:
        parameters.refuse("uses", "must be a kind and a code, such as materials/asa-green")
    key = None if rate is None else (rate[1], rate[2])
    shop: Shop = request.app.state.shop
    return Filter(
        channel=parameters.code("channel"),
        product=parameters.code("product"),
        uses=key,
        using=() if key is None else _channels_using(shop, key),
        below_floor=parameters.flag("below_floor"),
        on=shop.today().isoformat(),
    )


def _channels_using(shop: Shop, key: Key) -> frozenset[str]:
    """Name the channels that are this rate, or pack in it."""
    kind, code = key
    if kind == "channels":
        return frozenset({code})
    found = shop.pinned_today()
    if kind != "components" or found is None:
        return frozenset()
    return channels_packing(found.in_force.sheet, frozenset({code}))


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Add or change listings",
        says=(
            "Each row is a listing, whole; those not sent stay as they are. In CSV a column that "
            "is not sent stays as it is. All rows are kept or none, unless asked otherwise."
        ),
        scope="listings",
        parameters=(ALL_OR_NONE,),
        headers=(IDEMPOTENCY_KEY,),
        takes={
            JSON: rows_of(ListingRow),
            NDJSON: {"description": "a listing a line"},
            CSV: {"description": "a listing a row, a column a member"},
        },
        gives={JSON: RowOutcomes},
        refusals=ROW_REFUSALS,
        examples={"the planter in the shop": {"items": [{"sku": "HP-1", **PLANTER_LISTING}]}},
    ),
)
async def post_listings(request: Asked) -> Response[bytes]:
    """Add or change listings."""
    media_type_wanted(request, (JSON,))
    lay: dict[str, Callable[[bytes], Lay]] = {
        JSON: rows_of_document,
        NDJSON: rows_of_lines,
        CSV: _rows_of_table,
    }
    sent = media_type_sent(request, tuple(lay))
    return await put_many(request, LISTING, ROUTE, lay[sent])


def _rows_of_table(body: bytes) -> Lay:
    rows = read_listing_rows(body, MOST_ROWS)
    check_number(len(rows.rows), "")

    def lay(store: Database) -> Any:
        return laid_over(store, rows)

    return lay

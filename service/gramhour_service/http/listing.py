"""GET, PUT, DELETE /v1/listings/{sku}, and the history of its prices."""

from http import HTTPStatus

import msgspec
from litestar import Response
from litestar.params import FromPath
from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.listing import Listing
from gramhour.contract.members import SKU_FORM
from gramhour.contract.one_piece import whole_number
from gramhour.contract.stored_listing import PriceHistory, StoredListing
from gramhour_service.http.entries import (
    CURSOR,
    LIMIT,
    ONE_REFUSALS,
    check_name,
    delete_one,
    found,
    page_asked,
    put_one,
    read_store,
    tag_of,
)
from gramhour_service.http.examples import PLANTER_LISTING
from gramhour_service.http.listings import LISTING
from gramhour_service.http.operation import SKU_TEXT, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.preconditions import IF_MATCH, IF_NONE_MATCH
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.listings.told import cautions_of_put, told_listing, told_price
from gramhour_service.store.prices import newest_change, price_history

ENCODER = msgspec.json.Encoder()
SKU = Parameter(
    "sku",
    "the listing",
    SKU_TEXT,
    place="path",
    required=True,
    example="HP-1",
)


@serves(
    "GET",
    "/v1/listings/{sku:str}",
    Operation(
        summary="One listing",
        says=(
            "A listing, its version, its price today and those planned. The tag is the listing's "
            "own: it does not move when its price does."
        ),
        scope="cost",
        parameters=(SKU,),
        gives={JSON: StoredListing},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=False,
    ),
)
async def listing(request: Asked, sku: FromPath[str]) -> Response[bytes]:
    """Answer one listing."""
    Parameters(request, ()).check()
    shop: Shop = request.app.state.shop

    def work(store: Database) -> tuple[bytes, str]:
        entry = found(store, LISTING, sku)
        return ENCODER.encode(told_listing(store, entry, shop.today())), tag_of(entry)

    media_type = media_type_wanted(request, (JSON,))
    body, tag = read_store(request, work)
    return answered(request, body, media_type, costs=True, headers={"ETag": tag})


@serves(
    "PUT",
    "/v1/listings/{sku:str}",
    Operation(
        summary="Change or add a listing",
        says=(
            "Puts a listing, whole, in place of what it is. One that is so already is answered "
            "with 200 whatever the tag. Its price stays until it is repriced, unless it becomes "
            "a listing of something else or on another channel: then its price is withdrawn."
        ),
        scope="listings",
        parameters=(SKU,),
        headers=(IF_MATCH, IF_NONE_MATCH),
        takes={JSON: Listing},
        gives={JSON: StoredListing},
        also={201: "It is new"},
        refusals=(*ONE_REFUSALS, "no-rates"),
        examples={"the planter in the shop": PLANTER_LISTING},
    ),
)
async def put_one_listing(request: Asked, sku: FromPath[str]) -> Response[bytes]:
    """Change or add a listing."""
    media_type = media_type_wanted(request, (JSON,))
    check_name(sku, SKU, SKU_FORM)
    entry, put = await put_one(request, LISTING, sku)
    shop: Shop = request.app.state.shop
    told = read_store(request, lambda store: told_listing(store, entry, shop.today()))
    return answered(
        request,
        ENCODER.encode(replace(told, cautions=cautions_of_put(put))),
        media_type,
        costs=True,
        status=HTTPStatus.CREATED if put.done == "added" else HTTPStatus.OK,
        headers={"ETag": tag_of(entry)},
    )


@serves(
    "DELETE",
    "/v1/listings/{sku:str}",
    Operation(
        summary="Take a listing away",
        says="Takes a listing away and withdraws its price; what both were stays in the store.",
        scope="listings",
        parameters=(SKU,),
        headers=(IF_MATCH,),
        gives={JSON: StoredListing},
        also={204: "It is gone"},
        refusals=(*ONE_REFUSALS, "no-rates"),
    ),
)
async def delete_listing(request: Asked, sku: FromPath[str]) -> Response[bytes]:
    """Take a listing away."""
    return await delete_one(request, LISTING, sku)


@serves(
    "GET",
    "/v1/listings/{sku:str}/prices",
    Operation(
        summary="The prices that a sku has had",
        says="Every change of its price, the newest first, of one taken away too.",
        scope="cost",
        parameters=(SKU, LIMIT, CURSOR),
        gives={JSON: PriceHistory},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def listing_prices(request: Asked, sku: FromPath[str]) -> Response[bytes]:
    """Answer the history of a sku's price."""
    parameters = Parameters(request, ("limit", "cursor"))
    page = page_asked(parameters)
    below = whole_number(page.after) if page.after else None
    if isinstance(below, str):
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
    parameters.check()

    def work(store: Database) -> PriceHistory:
        before = newest_change(store) + 1 if below is None else below
        changes = price_history(store, sku, before, page.limit + 1)
        if not changes and below is None:
            found(store, LISTING, sku)
        told = [told_price(each) for each in changes[: page.limit]]
        more = len(changes) > page.limit
        return PriceHistory(
            sku=sku, items=told, next_cursor=str(told[-1].change) if more else UNSET
        )

    media_type = media_type_wanted(request, (JSON,))
    body = ENCODER.encode(read_store(request, work))
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))

"""GET, POST /v1/products and GET, PUT, DELETE /v1/products/{code}: each described once."""

from http import HTTPStatus

import msgspec
from litestar import Response
from litestar.params import FromPath
from litestar.response import Stream
from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.listing import ProductEntry, ProductRow
from gramhour.contract.members import CODE_FORM
from gramhour.contract.reading import entry_reader
from gramhour.contract.stored_listing import RowOutcomes, StoredProduct, StoredProducts
from gramhour_service.http.entries import (
    ALL_OR_NONE,
    CURSOR,
    LIMIT,
    ONE_REFUSALS,
    ROW_REFUSALS,
    Thing,
    check_name,
    delete_one,
    found,
    page_asked,
    put_many,
    put_one,
    read_store,
    rows_of,
    rows_of_document,
    rows_of_lines,
    tag_of,
)
from gramhour_service.http.examples import HERB_PLANTER_ENTRY
from gramhour_service.http.once import IDEMPOTENCY_KEY
from gramhour_service.http.operation import CODE_TEXT, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.preconditions import IF_MATCH, IF_NONE_MATCH
from gramhour_service.http.wire import (
    JSON,
    NDJSON,
    Asked,
    answered,
    media_type_sent,
    media_type_wanted,
    streamed,
    tag_of_body,
)
from gramhour_service.listings.exporting import product_lines
from gramhour_service.listings.keeping import put_product
from gramhour_service.listings.told import cautions_of_put, told_product
from gramhour_service.store.entries import entries_after

ROUTE = "/v1/products"
ENCODER = msgspec.json.Encoder()
PRODUCT = Thing("product", "product", put_product, lambda on: entry_reader(ProductEntry, on.sheet))
CODE = Parameter(
    "code",
    "the product",
    CODE_TEXT,
    place="path",
    required=True,
    example="herb-planter",
)


@serves(
    "GET",
    ROUTE,
    Operation(
        summary="The products",
        says=(
            "Products in the order of their codes, a page at a time; as NDJSON all of them, a line "
            'each as they can be sent back, and a last one, `{"done": n}`.'
        ),
        scope="cost",
        parameters=(LIMIT, CURSOR),
        gives={JSON: StoredProducts, NDJSON: {"type": "string"}},
        refusals=("no-rates",),
        is_conditional=True,
    ),
)
async def products(request: Asked) -> Response[bytes] | Stream:
    """List the products."""
    parameters = Parameters(request, ("limit", "cursor"))
    page = page_asked(parameters)
    parameters.check()
    if media_type_wanted(request, (JSON, NDJSON)) == NDJSON:
        read_store(request, lambda _: None)
        return streamed(product_lines(request.app.state.shop.read), NDJSON)
    entries = read_store(
        request, lambda store: entries_after(store, "product", page.after, page.limit + 1)
    )
    told = StoredProducts(
        items=[told_product(each) for each in entries[: page.limit]],
        next_cursor=entries[page.limit - 1].name if len(entries) > page.limit else UNSET,
    )
    body = ENCODER.encode(told)
    return answered(request, body, JSON, costs=True, tag=tag_of_body(body))


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Add or change products",
        says=(
            "Each row is a product, whole; those not sent stay as they are. All rows are kept or "
            "none, unless asked otherwise."
        ),
        scope="listings",
        parameters=(ALL_OR_NONE,),
        headers=(IDEMPOTENCY_KEY,),
        takes={JSON: rows_of(ProductRow), NDJSON: {"description": "a product a line"}},
        gives={JSON: RowOutcomes},
        refusals=ROW_REFUSALS,
        examples={"a planter": {"items": [{"code": "herb-planter", **HERB_PLANTER_ENTRY}]}},
    ),
)
async def post_products(request: Asked) -> Response[bytes]:
    """Add or change products."""
    media_type_wanted(request, (JSON,))
    is_document = media_type_sent(request, (JSON, NDJSON)) == JSON
    return await put_many(
        request, PRODUCT, ROUTE, rows_of_document if is_document else rows_of_lines
    )


@serves(
    "GET",
    "/v1/products/{code:str}",
    Operation(
        summary="One product",
        says="A product, its variants, its version and who made that.",
        scope="cost",
        parameters=(CODE,),
        gives={JSON: StoredProduct},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def product(request: Asked, code: FromPath[str]) -> Response[bytes]:
    """Answer one product."""
    Parameters(request, ()).check()

    def work(store: Database) -> tuple[bytes, str]:
        entry = found(store, PRODUCT, code)
        return ENCODER.encode(told_product(entry)), tag_of(entry)

    media_type = media_type_wanted(request, (JSON,))
    body, tag = read_store(request, work)
    return answered(request, body, media_type, costs=True, tag=tag)


@serves(
    "PUT",
    "/v1/products/{code:str}",
    Operation(
        summary="Change or add a product",
        says=(
            "Puts a product, whole, in place of what it is. One that is so already is answered "
            "with 200 whatever the tag. Its listings keep their prices until they are repriced."
        ),
        scope="listings",
        parameters=(CODE,),
        headers=(IF_MATCH, IF_NONE_MATCH),
        takes={JSON: ProductEntry},
        gives={JSON: StoredProduct},
        also={201: "It is new"},
        refusals=(*ONE_REFUSALS, "no-rates"),
        examples={"a planter": HERB_PLANTER_ENTRY},
    ),
)
async def put_one_product(request: Asked, code: FromPath[str]) -> Response[bytes]:
    """Change or add a product."""
    media_type = media_type_wanted(request, (JSON,))
    check_name(code, CODE, CODE_FORM)
    entry, put = await put_one(request, PRODUCT, code)
    return answered(
        request,
        ENCODER.encode(replace(told_product(entry), cautions=cautions_of_put(put))),
        media_type,
        costs=True,
        status=HTTPStatus.CREATED if put.done == "added" else HTTPStatus.OK,
        headers={"ETag": tag_of(entry)},
    )


@serves(
    "DELETE",
    "/v1/products/{code:str}",
    Operation(
        summary="Take a product away",
        says="Takes away a product that is not listed; what it was stays readable in the store.",
        scope="listings",
        parameters=(CODE,),
        headers=(IF_MATCH,),
        gives={JSON: StoredProduct},
        also={204: "It is gone"},
        refusals=(*ONE_REFUSALS, "in-use", "no-rates"),
    ),
)
async def delete_product(request: Asked, code: FromPath[str]) -> Response[bytes]:
    """Take a product away."""
    return await delete_one(request, PRODUCT, code)

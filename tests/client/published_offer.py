"""What is published of products, listings, prices and repricings: see ``published``."""

from collections.abc import Callable, Sequence
from types import NoneType
from typing import Any, NamedTuple

from gramhour import (
    Applied,
    OpenServices,
    PriceHistory,
    Prices,
    PublicKeys,
    Repricing,
    RepricingLines,
    Repricings,
    RowOutcomes,
    SealVerdict,
    StoredListing,
    StoredListings,
    StoredProduct,
    StoredProducts,
    calls_of_listings,
    calls_of_measurements,
    calls_of_repricing,
    calls_of_seals,
)
from gramhour.calls import Call
from tests.client.listed import LISTING, PRODUCT


class Published(NamedTuple):
    """An answer: its file, the call that it answers after others, and how its body is read."""

    file: str
    call: Call[Any]
    read: Callable[[bytes], Any]
    after: Sequence[Call[Any]] = ()


def of(file: str, call: Call[Any], *after: Call[Any]) -> Published:
    return Published(file, call, call.decode, after)


DEARER_WORK = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
CHEAPER_POWER = {"kind": "shop", "code": "price_per_kwh", "value": "0.29"}
A_REPRICING = "0123456789abcdef"
"""Stands in what is published for the name of a repricing, which is made at random."""
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
    of("products.json", calls_of_listings.products(None, None), PUT_PRODUCT),
    of("product.json", calls_of_listings.product("herb-planter"), PUT_PRODUCT),
    of("saved-product.json", PUT_PRODUCT),
    of(
        "removed-product.txt",
        calls_of_listings.delete_product("herb-planter", '"v1"'),
        PUT_PRODUCT,
    ),
    of(
        "product-rows.json",
        calls_of_listings.put_products([{"code": "herb-planter", **PRODUCT}], all_or_none=True),
    ),
    of("listings.json", calls_of_listings.listings({}, None, None), *LISTED),
    of("listing.json", calls_of_listings.listing("HP-1"), *PRICED),
    of("saved-listing.json", PUT_LISTING, PUT_PRODUCT),
    of("removed-listing.txt", calls_of_listings.delete_listing("HP-1", '"v1"'), *LISTED),
    of("listing-rows.json", calls_of_listings.put_listings(SOME_ROWS, all_or_none=False), *LISTED),
    of("listing-prices.json", calls_of_listings.listing_prices("HP-1", None, None), *PRICED),
    of("prices.json", calls_of_listings.prices("own-shop", None, None, None), *PRICED),
    of("services.json", calls_of_measurements.services(None, None)),
    of("seal-verdict.json", calls_of_seals.verify_seal("not.a.seal")),
    of("seal-keys.json", calls_of_seals.seal_keys(), *PRICED),
    of("started-repricing.json", FIRST, *LISTED),
    of("repricing.json", calls_of_repricing.repricing(A_REPRICING), *PRICED),
    of("repricings.json", calls_of_repricing.repricings(None, None), *LISTED, FIRST),
    of(
        "repricing-lines.json",
        calls_of_repricing.repricing_lines(A_REPRICING, {}, None, None),
        *PRICED,
        WHAT_IF,
    ),
    of("applied.json", APPLY, *LISTED, FIRST),
]
TYPES_OF_THE_OFFER = {
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
    "services.json": OpenServices,
    "seal-verdict.json": SealVerdict,
    "seal-keys.json": PublicKeys,
    "started-repricing.json": Repricing,
    "repricing.json": Repricing,
    "repricings.json": Repricings,
    "repricing-lines.json": RepricingLines,
    "applied.json": Applied,
}

"""A listing as a quote request: what it asks of the calculation, on its channel."""

from decimal import Decimal
from functools import lru_cache

from msgspec import UNSET, UnsetType, json

from gramhour.contract.listing import Listing, ProductEntry
from gramhour.contract.product import Product
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour_service.listings.variants import (
    AS_DESCRIBED,
    filaments_used,
    used_beside_filaments,
    variants_of,
)
from gramhour_service.resolve.request import usual_breaks
from gramhour_service.store.entries import Entry
from gramhour_service.store.rates import Key

PRODUCTS = json.Decoder(ProductEntry)
LISTINGS = json.Decoder(Listing)
MOST_PRODUCTS_KEPT = 2_000


def stored_listing(entry: Entry) -> Listing:
    """Read a listing as it was saved."""
    return LISTINGS.decode(entry.value)


@lru_cache(MOST_PRODUCTS_KEPT)
def listing_as_saved(value: str) -> Listing:
    """Read a listing that is asked for again and again; the same for the same text."""
    return LISTINGS.decode(value)


def stored_product(entry: Entry) -> ProductEntry:
    """Read a product as it was saved."""
    return PRODUCTS.decode(entry.value)


@lru_cache(MOST_PRODUCTS_KEPT)
def stored_variants(value: str) -> dict[str, Product]:
    """Read the variants of a product as it was saved; the same for the same text."""
    return variants_of(PRODUCTS.decode(value))


@lru_cache(MOST_PRODUCTS_KEPT)
def stored_uses(value: str) -> dict[str, frozenset[Key]]:
    """Name the rates that each variant of a product uses; the same for the same text."""
    variants = stored_variants(value)
    others = used_beside_filaments(variants[AS_DESCRIBED])
    return {name: others | filaments_used(product) for name, product in variants.items()}


def variant_listed(listing: Listing) -> str:
    """Name the variant that is listed."""
    return AS_DESCRIBED if listing.variant is UNSET else listing.variant


def asked_by(
    listing: Listing,
    product: Product,
    sheet: RateSheet,
    discount_pct: Decimal | UnsetType = UNSET,
) -> QuoteRequest:
    """Ask for the price of a listing at its breaks, those of the sheet where it has none."""
    breaks = breaks_of(listing, sheet)
    return QuoteRequest(
        product=product,
        quantity=breaks[0],
        breaks=breaks,
        channel=listing.channel,
        aim=listing.aim,
        discount_pct=discount_pct,
    )


def breaks_of(listing: Listing, sheet: RateSheet) -> list[int]:
    """Sort a listing's breaks; the sheet's are rounded up to what its channel sells.

    Without either there is one, the least that is sold.
    """
    multiple = multiple_sold(sheet, listing.channel)
    if listing.breaks is not UNSET and listing.breaks:
        return sorted(set(listing.breaks))
    return list(usual_breaks(sheet, multiple)) or [multiple]


def multiple_sold(sheet: RateSheet, channel: str) -> int:
    """Say of how many units a channel sells multiples."""
    assert sheet.channels is not UNSET, "the channel was read as one of the sheet's"
    multiple = sheet.channels[channel].multiple_of
    return 1 if multiple is UNSET else multiple

"""Whether a product can be priced, and a listing sold, by the rates in force."""

from collections.abc import Iterator
from decimal import Decimal

from msgspec import UNSET

from gramhour.contract.listing import Listing, ProductEntry
from gramhour.contract.noting import nearest, shown
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.product import Product
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.listings.asked import breaks_of, multiple_sold, variant_listed
from gramhour_service.listings.variants import AS_DESCRIBED, filaments_of, swapped
from gramhour_service.resolve.currency import minor_digits
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.product import resolve_product
from gramhour_service.resolve.rates import Kept, Rates
from gramhour_service.resolve.request import resolve

NOTHING = Product()
MOST_TO_CHECK = 2_000
"""Pieces in all variants of a product: they are resolved while others wait."""


def faults_of_product(entry: ProductEntry, sheet: RateSheet, kept: Kept) -> list[Fault]:
    """Find what is wrong with a product, as described and in each variant."""
    variants = [] if entry.variants is UNSET else entry.variants
    pieces = [] if entry.product.pieces is UNSET else entry.product.pieces
    if len(variants) * len(pieces) > MOST_TO_CHECK:
        detail = f"{len(variants)} variants of {len(pieces)} pieces; at most {MOST_TO_CHECK} in all"
        return [Fault("/variants", detail)]
    faults = _faults_resolving(entry.product, sheet, kept)
    if faults:
        return faults
    filaments, seen = filaments_of(entry.product), set[str]()
    for n, variant in enumerate(variants):
        if variant.name in seen:
            detail = f"variant {shown(variant.name)} stands twice; keep one"
            faults.append(Fault(pointer("variants", n, "name"), detail))
        seen.add(variant.name)
        for code in variant.materials:
            if code not in filaments:
                near = nearest(code, filaments)
                detail = f"the product is not printed in {shown(code)}{near}"
                faults.append(Fault(pointer("variants", n, "materials", code), detail))
        as_swapped = swapped(entry.product, variant.materials)
        faults += [
            Fault(pointer("variants", n), f"in these filaments, {fault.pointer}: {fault.detail}")
            for fault in _faults_resolving(as_swapped, sheet, kept)
        ]
    return faults


def _faults_resolving(product: Product, sheet: RateSheet, kept: Kept) -> list[Fault]:
    notes = Notes(explain=False)
    with costing_arithmetic():
        resolve_product(Members(product, ("product",), notes), Rates(sheet, notes, kept=kept))
    return notes.faults


def faults_of_listing(
    listing: Listing, product: ProductEntry | None, sheet: RateSheet, kept: Kept
) -> list[Fault]:
    """Find what is wrong with a listing of a product, none if there is no such one."""
    return [*_faults_of_references(listing, product), *_faults_of_policy(listing, sheet, kept)]


def _faults_of_references(listing: Listing, product: ProductEntry | None) -> Iterator[Fault]:
    if product is None:
        return
    variant = variant_listed(listing)
    known = {v.name for v in (() if product.variants is UNSET else product.variants)}
    if variant != AS_DESCRIBED and variant not in known:
        near = nearest(variant, known)
        yield Fault("/variant", f"the product has no variant {shown(variant)}{near}")


def _faults_of_policy(listing: Listing, sheet: RateSheet, kept: Kept) -> Iterator[Fault]:
    least = listing.least_change
    unit = Decimal(1).scaleb(-minor_digits(sheet.currency))
    if least is not UNSET and least % unit:
        yield Fault("/least_change", f"must be a whole number of the minor unit ({unit:f})")
    asked = QuoteRequest(
        product=NOTHING,
        quantity=multiple_sold(sheet, listing.channel),
        breaks=breaks_of(listing, sheet),
        channel=listing.channel,
        aim=listing.aim,
    )
    try:
        with costing_arithmetic():
            resolve(asked, sheet, kept=kept)
    except Refused as refused:
        yield from refused.faults

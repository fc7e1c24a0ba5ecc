"""Products and listings put into the store, changed and taken away, each checked before."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any, Literal, NamedTuple, TypeVar

import msgspec
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.listing import Listing, ProductEntry
from gramhour.contract.members import CODE_PATTERN
from gramhour.contract.noting import nearest, shown
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import entry_reader
from gramhour_service.listings.asked import stored_listing, stored_product
from gramhour_service.listings.checking import faults_of_listing, faults_of_product
from gramhour_service.listings.variants import rates_used, variants_of
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.usual import unusual, unusual_product
from gramhour_service.sheets.rows import same_value
from gramhour_service.store.entries import (
    Entry,
    EntryKind,
    Uses,
    Written,
    entry_of,
    listings_of,
    names_like,
    put_entry,
    put_uses,
    take_entry_away,
    variants_listed,
)
from gramhour_service.store.prices import withdraw

T = TypeVar("T", bound=msgspec.Struct)
MOST_NAMED = 5
CODE = re.compile(CODE_PATTERN)
MOST_SEARCHED = 50


class Ground(NamedTuple):
    """What is written upon: the store, the sheet in force today, who writes, and when."""

    store: Database
    sheet: RateSheet
    kept: Kept
    today: date
    written: Written


class Put(NamedTuple):
    """What became of a product or a listing, its version now, and what of it is hardly meant."""

    done: Literal["added", "changed", "unchanged"]
    version: int
    unlikely: tuple[str, ...] = ()


Check = Callable[[Entry | None], None]
"""Refuses a state that the caller has not seen. What is so already is not checked."""


def unseen(_: Entry | None) -> None:
    """Take any state."""


def put_product(ground: Ground, code: str, entry: ProductEntry, check: Check = unseen) -> Put:
    """Put a product in place of what it is, within ``writing``.

    Raises ``Refused`` with every fault found.
    """
    before = entry_of(ground.store, "product", code)
    value = msgspec.json.encode(_bare(entry, ProductEntry)).decode()
    if before is not None and same_value(before.value, value):
        return Put("unchanged", before.version)
    check(before)
    faults = faults_of_product(entry, ground.sheet, ground.kept)
    variants = {} if faults else variants_of(entry)
    if before is not None and not faults:
        faults = _still_listed(ground.store, code, set(variants))
    _raise_if(faults)
    uses: Uses = {name: rates_used(product) for name, product in variants.items()}
    version = put_entry(ground.store, "product", code, value, ground.written)
    put_uses(ground.store, code, uses)
    unlikely = tuple(unusual_product(entry.product, f"Product {code}"))
    return Put("added" if before is None else "changed", version, unlikely)


def listing_reader(into: type[T], ground: Ground) -> Callable[[Any], T]:
    """Make the reader of listings, which refuses an unknown product along with other faults."""
    read = entry_reader(into, ground.sheet)

    def read_listing(sent: Any) -> T:
        try:
            return read(sent)
        except Refused as refused:
            named = sent.get("product") if isinstance(sent, dict) else None
            more = faults_of_product_named(ground, named)
            raise Refused(refused.type, (*refused.faults, *more)) from None

    return read_listing


def put_listing(ground: Ground, sku: str, listing: Listing, check: Check = unseen) -> Put:
    """Put a listing in place of what it is, within ``writing``.

    One that becomes a listing of something else, or on another channel, loses its price. Raises
    ``Refused`` with every fault found.
    """
    before = entry_of(ground.store, "listing", sku)
    value = msgspec.json.encode(_bare(listing, Listing)).decode()
    if before is not None and same_value(before.value, value):
        return Put("unchanged", before.version)
    check(before)
    product = entry_of(ground.store, "product", listing.product)
    faults = faults_of_product_named(ground, listing.product)
    entry = None if product is None else stored_product(product)
    faults += faults_of_listing(listing, entry, ground.sheet, ground.kept)
    _raise_if(faults)
    if before is not None and _is_other(stored_listing(before), listing):
        withdraw(ground.store, sku, ground.today, ground.written, "listed as something else")
    version = put_entry(ground.store, "listing", sku, value, ground.written)
    unlikely = tuple(unusual(listing, f"Listing {sku}"))
    return Put("added" if before is None else "changed", version, unlikely)


def faults_of_product_named(ground: Ground, code: object) -> list[Fault]:
    """Find whether a listing names a product that is there."""
    if (
        not isinstance(code, str)
        or not CODE.fullmatch(code)
        or entry_of(ground.store, "product", code) is not None
    ):
        return []
    known = names_like(ground.store, "product", code, MOST_SEARCHED)
    near = nearest(code, known) or "; see /v1/products"
    return [Fault("/product", f"there is no product {shown(code)}{near}")]


def take_away(ground: Ground, kind: EntryKind, entry: Entry) -> None:
    """Take a product or a listing away, within ``writing``; a listing's price is withdrawn.

    Raises ``Refused`` for a product that is listed.
    """
    if kind == "listing":
        withdraw(ground.store, entry.name, ground.today, ground.written, "no longer listed")
    elif listed := listings_of(ground.store, entry.name, MOST_NAMED):
        detail = f"it is listed as {', '.join(listed)}; take those away first"
        raise Refused("in-use", (Fault(UNSET, detail),))
    take_entry_away(ground.store, kind, entry, ground.written)


def _still_listed(store: Database, code: str, variants: set[str]) -> list[Fault]:
    return [
        Fault("/variants", f"variant {shown(name)} is listed as {sku}; take that away first")
        for name, sku in variants_listed(store, code).items()
        if name not in variants
    ]


def _is_other(before: Listing, now: Listing) -> bool:
    """Say whether a price of one listing says nothing of the other."""
    return (before.product, before.variant, before.channel) != (
        now.product,
        now.variant,
        now.channel,
    )


def _bare(entry: T, into: type[T]) -> T:
    """Leave out the name that a row has beside what is stored under it."""
    if type(entry) is into:
        return entry
    return into(**{name: getattr(entry, name) for name in into.__struct_fields__})


def _raise_if(faults: list[Fault]) -> None:
    if faults:
        raise Refused("invalid-request", tuple(faults))

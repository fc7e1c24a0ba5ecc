"""Prices listings of a store by a target, one after another; what they share is kept."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from sqlite_utils import Database

from gramhour.contract.listing import Listing
from gramhour.contract.product import Product
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.rules import VERSION
from gramhour_service.listings.asked import (
    stored_listing,
    stored_uses,
    stored_variants,
    variant_listed,
)
from gramhour_service.listings.told import breaks_listed
from gramhour_service.repricing.alike.columns import ToPrice
from gramhour_service.repricing.alike.grouped import lines_of
from gramhour_service.repricing.effects import Moved
from gramhour_service.repricing.evaluating import Makings, Offered
from gramhour_service.repricing.lines import Listed
from gramhour_service.repricing.target import Target
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.entries import Entry, entries_named
from gramhour_service.store.opening import reading
from gramhour_service.store.prices import PriceChange, prices_in_force
from gramhour_service.store.rates import Key
from gramhour_service.store.repricings import LineRow

MOST_KEPT = 20
"""Rates that listings were priced by before, each a whole sheet."""


class Described(NamedTuple):
    """A version of a product: by variant, what it is and which rates it uses."""

    version: int
    variants: Mapping[str, Product]
    uses: Mapping[str, frozenset[Key]]


class Pricer:
    """Prices listings by a target. Nothing in it but caches."""

    def __init__(self, store: Database, target: Target) -> None:
        """Read listings from ``store``."""
        self._store, self._target = store, target
        self._sheets = Sheets(store)
        self._makings = Makings(target)
        self._moved = LastMade[tuple[int, str], Moved](MOST_KEPT)

    def lines(self, skus: list[str]) -> list[LineRow]:
        """Price listings; those that were taken away meanwhile are left out."""
        store, on = self._store, date.fromisoformat(self._target.on)
        with reading(store):
            entries = entries_named(store, "listing", skus)
            listings = {sku: stored_listing(entry) for sku, entry in entries.items()}
            named = {listing.product for listing in listings.values()}
            products = {
                code: _described(entry)
                for code, entry in entries_named(store, "product", named).items()
            }
            prices = prices_in_force(store, entries, on)
        there = [sku for sku in skus if sku in entries]
        items = [
            self._to_price(entries[sku], listings[sku], products, prices.get(sku)) for sku in there
        ]
        return [
            LineRow(
                item.offered.sku,
                line.outcome,
                line.under_floor,
                line.under_floor_if_kept,
                line.moves,
                line.standing,
                item.offered.version,
                entries[item.offered.sku].version,
                item.offered.listing.channel,
                line.prices,
                line.line,
            )
            for item, line in zip(items, lines_of(items, self._makings), strict=True)
        ]

    def _to_price(
        self,
        entry: Entry,
        listing: Listing,
        products: Mapping[str, Described],
        price: PriceChange | None,
    ) -> ToPrice:
        product, variant = products[listing.product], variant_listed(listing)
        offered = Offered(
            entry.name,
            listing,
            product.variants[variant],
            product.uses[variant],
            product.version,
        )
        listed = None if price is None else self._listed(price, product.version, entry.version)
        return ToPrice(offered, listed)

    def _listed(self, price: PriceChange, product_version: int, listing_version: int) -> Listed:
        discount = Decimal(price.discount_pct or 0)
        return Listed(
            breaks=breaks_listed(price),
            moved=self._moved.of(
                (price.rates_revision, price.rates_on),
                lambda: self._since(price.rates_revision, price.rates_on),
            ),
            is_as_described=(
                price.product_version == product_version
                and price.listing_version == listing_version
                and price.rules == VERSION
                and discount == self._target.discount_pct
            ),
        )

    def _since(self, revision: int, day: str) -> Moved:
        """Prepare what moved since the rates of a revision and a day."""
        found = self._sheets.at(revision, day)
        base = Target(found.sheet, revision, day, found.kept, self._target.discount_pct)
        return Moved(base, self._makings)


def _described(entry: Entry) -> Described:
    return Described(entry.version, stored_variants(entry.value), stored_uses(entry.value))

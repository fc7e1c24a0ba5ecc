"""Prices listings of a store by a target, one after another; what they share is kept."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from msgspec import UNSET, json
from sqlite_utils import Database

from gramhour.contract.listing import Listing
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.rules import VERSION
from gramhour_service.listings.asked import (
    stored_listing,
    stored_uses,
    stored_variants,
    variant_listed,
)
from gramhour_service.listings.told import breaks_listed
from gramhour_service.repricing.alike.grouped import lines_of
from gramhour_service.repricing.alike.lines import ToPrice
from gramhour_service.repricing.effects import Moved
from gramhour_service.repricing.evaluating import Makings, Offered
from gramhour_service.repricing.lines import Line, Listed, written_prices
from gramhour_service.repricing.target import Target
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.entries import Entry, entries_named
from gramhour_service.store.opening import reading
from gramhour_service.store.prices import PriceChange, price_in_force
from gramhour_service.store.repricings import FROM_NOTHING, LineRow

ENCODER = json.Encoder()
MOST_KEPT = 20
"""Rates that listings were priced by before, each a whole sheet."""
FAILED_FIRST, UNDER_FLOOR_NEXT = -2e12, -1e12


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
            products = entries_named(store, "product", named)
            prices = {sku: price_in_force(store, sku, on) for sku in entries}
        there = [sku for sku in skus if sku in entries]
        items = [
            self._to_price(entries[sku], listings[sku], products, prices[sku]) for sku in there
        ]
        lines = lines_of(items, self._makings)
        return [
            _stored(line, entries[sku], products[listings[sku].product])
            for sku, line in zip(there, lines, strict=True)
        ]

    def _to_price(
        self,
        entry: Entry,
        listing: Listing,
        products: Mapping[str, Entry],
        price: PriceChange | None,
    ) -> ToPrice:
        product, variant = products[listing.product], variant_listed(listing)
        offered = Offered(
            sku=entry.name,
            listing=listing,
            product=stored_variants(product.value)[variant],
            uses=stored_uses(product.value)[variant],
            version=product.version,
        )
        return ToPrice(offered, None if price is None else self._listed(price, product, entry))

    def _listed(self, price: PriceChange, product: Entry, entry: Entry) -> Listed:
        discount = Decimal(price.discount_pct or 0)
        return Listed(
            breaks=breaks_listed(price),
            moved=self._moved.of(
                (price.rates_revision, price.rates_on),
                lambda: self._since(price.rates_revision, price.rates_on),
            ),
            is_as_described=(
                price.product_version == product.version
                and price.listing_version == entry.version
                and price.rules == VERSION
                and discount == self._target.discount_pct
            ),
        )

    def _since(self, revision: int, day: str) -> Moved:
        """Prepare what moved since the rates of a revision and a day."""
        found = self._sheets.at(revision, day)
        base = Target(found.sheet, revision, day, found.kept, self._target.discount_pct)
        return Moved(base, self._target)


def _stored(line: Line, entry: Entry, product: Entry) -> LineRow:
    told = line.told
    moves = 0.0 if told.change_pct is UNSET else abs(float(told.change_pct))
    if line.from_nothing:
        moves = FROM_NOTHING
    first = FAILED_FIRST if told.outcome == "failed" else 0.0
    if told.under_floor or told.under_floor_if_kept:
        first = UNDER_FLOOR_NEXT
    return LineRow(
        sku=told.sku,
        outcome=told.outcome,
        under_floor=told.under_floor,
        under_floor_if_kept=told.under_floor_if_kept,
        moves=moves,
        standing=first - moves,
        product_version=product.version,
        listing_version=entry.version,
        channel=told.channel,
        prices=written_prices(line.prices),
        line=ENCODER.encode(told),
    )

"""Tells products, listings and their prices as the contract has them."""

from datetime import date, datetime
from decimal import Decimal

from msgspec import UNSET, UnsetType, json
from sqlite_utils import Database

from gramhour.contract.answer import Caution
from gramhour.contract.listed import ListedBreak, ListedPrice
from gramhour.contract.prices import PriceItem, PriceStep
from gramhour.contract.stored_listing import StoredListing, StoredProduct
from gramhour_service.listings.asked import stored_listing, stored_product
from gramhour_service.listings.keeping import Put
from gramhour_service.resolve.unlikely import as_cautions
from gramhour_service.store.entries import Entry, entry_of
from gramhour_service.store.prices import PriceChange, planned_prices, price_in_force

BREAKS = json.Decoder(list[ListedBreak])


def told_product(entry: Entry) -> StoredProduct:
    """Tell a product as it is."""
    return StoredProduct(
        code=entry.name,
        version=entry.version,
        changed_at=datetime.fromisoformat(entry.changed_at),
        changed_by=entry.changed_by,
        entry=stored_product(entry),
    )


def told_listing(store: Database, entry: Entry, today: date) -> StoredListing:
    """Tell a listing as it is, its price of today and those planned."""
    price = price_in_force(store, entry.name, today)
    return StoredListing(
        sku=entry.name,
        version=entry.version,
        changed_at=datetime.fromisoformat(entry.changed_at),
        changed_by=entry.changed_by,
        listing=stored_listing(entry),
        price=UNSET if price is None else told_price(price),
        planned=[told_price(each) for each in planned_prices(store, entry.name, today)],
    )


def cautions_of_put(put: Put) -> list[Caution] | UnsetType:
    """Tell what is hardly meant of a product or a listing that was put."""
    return [*as_cautions(put.unlikely)] or UNSET


def told_price(price: PriceChange) -> ListedPrice:
    """Tell a price and what it came from."""
    return ListedPrice(
        change=price.change,
        valid_from=date.fromisoformat(price.effective_from),
        rates_revision=price.rates_revision,
        rates_on=date.fromisoformat(price.rates_on),
        discount_pct=UNSET if price.discount_pct is None else Decimal(price.discount_pct),
        breaks=breaks_listed(price),
        applied_at=datetime.fromisoformat(price.applied_at),
        applied_by=price.applied_by,
        note=price.note,
    )


def breaks_listed(price: PriceChange) -> list[ListedBreak]:
    """Read the breaks of a price, in rising order."""
    return BREAKS.decode(price.breaks)


def told_item(store: Database, price: PriceChange) -> PriceItem:
    """Tell a price as buyers may see it, under the name that its listing has today."""
    return PriceItem(
        sku=price.sku,
        name=_name(store, price.sku),
        change=price.change,
        valid_from=date.fromisoformat(price.effective_from),
        breaks=[
            PriceStep(
                from_quantity=each.from_quantity,
                unit_price=each.unit_price,
                unit_price_net=each.unit_price_net,
            )
            for each in breaks_listed(price)
        ],
    )


def _name(store: Database, sku: str) -> str:
    entry = entry_of(store, "listing", sku)
    if entry is None:
        return sku
    listing = stored_listing(entry)
    product = entry_of(store, "product", listing.product)
    assert product is not None, "the store keeps products that are listed"
    name = listing.name if listing.name is not UNSET else stored_product(product).product.name
    return sku if name is UNSET else name

"""What a shop offers without a key: its listed products on public channels, with today's price."""

from collections import Counter
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from sqlite_utils import Database

from gramhour.contract.prices import PriceItem, PriceStep
from gramhour_service.http.asking import Asker
from gramhour_service.http.shop import Shop
from gramhour_service.listings.asked import multiple_sold
from gramhour_service.listings.selling import Selling, for_sale, least_order
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.store.opening import writings_seen

MOST_OFFERED = 400
"""More would make the page heavy: then the product is named by its number, not chosen."""


class Offered(NamedTuple):
    """A product that is for sale: its number, its name as it is chosen, how its price is shown.

    ``first`` is the smallest quantity that is sold, and what one costs then; ``least`` what the
    goods of an order come to at least, if there is such a minimum; ``multiple`` what the quantity
    must be a multiple of.
    """

    sku: str
    name: str
    includes_tax: bool
    currency: str
    first: PriceStep
    least: Decimal | UnsetType
    multiple: int


def offered(shop: Shop, asker: Asker) -> list[Offered] | None:
    """List what is for sale by name; nothing where there is too much to list.

    The list is kept until something is written to the store, or it is another day: a page is asked
    for at every stroke of a key.
    """
    found = shop.pinned_today()
    if found is None:
        return []
    stamp = (shop.read(writings_seen), found.on, asker.channels)
    kept = shop.kept_offers
    if kept is None or kept[0] != stamp:
        kept = shop.kept_offers = (stamp, _read(shop, asker, found))
    return kept[1]


def _read(shop: Shop, asker: Asker, found: Pinned) -> list[Offered] | None:
    sheet, on = found.in_force.sheet, found.on
    channels = sheet.channels
    if channels is UNSET:
        return []
    told: list[Offered] = []
    for code in sorted(asker.channels or ()):
        channel = channels[code]
        in_all = channel.prices_include_tax, sheet.currency
        orders = least_order(sheet, channel), multiple_sold(sheet, code)

        def work(store: Database, channel: str = code) -> tuple[list[PriceItem], bool]:
            page = for_sale(store, Selling(channel, on, planned=False), "", MOST_OFFERED)
            return page.items, page.after is not None

        items, goes_on = shop.read(work) or ([], False)
        told += [
            Offered(each.sku, each.name, *in_all, each.breaks[0], *orders)
            for each in items
            if each.breaks
        ]
        if goes_on or len(told) > MOST_OFFERED:
            return None
    return sorted(_told_apart(told), key=lambda each: (each.name.casefold(), each.sku))


def _told_apart(offers: list[Offered]) -> list[Offered]:
    """Add its number to the name of a product that others share."""
    times = Counter(each.name for each in offers)
    return [
        each._replace(name=f"{each.name} ({each.sku})") if times[each.name] > 1 else each
        for each in offers
    ]

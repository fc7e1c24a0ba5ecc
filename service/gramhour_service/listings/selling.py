"""What is for sale on a channel, by sku; and what changed there since, by number."""

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from sqlite_utils import Database

from gramhour.contract.channel import Channel
from gramhour.contract.prices import PriceItem, Prices
from gramhour.contract.rates import RateSheet
from gramhour_service.calculation.arithmetic import half_up
from gramhour_service.listings.asked import multiple_sold
from gramhour_service.listings.told import told_item
from gramhour_service.resolve.currency import minor_digits
from gramhour_service.store.entries import Filter, entries_after
from gramhour_service.store.prices import (
    Feed,
    PriceChange,
    planned_prices,
    price_in_force,
    prices_changed,
)


class Page(NamedTuple):
    """Items, and where the next page goes on after, if there is one: a sku, or a number."""

    items: list[PriceItem]
    after: str | None


class Selling(NamedTuple):
    """Where prices are asked for, on which day, and whether planned ones are told too."""

    channel: str
    on: date
    planned: bool


def for_sale(store: Database, asked: Selling, after: str, most: int) -> Page:
    """List what is for sale, in the order of skus, of so many listings at most.

    A page ends with a listing that had a price, so that where the next begins names no other.
    """
    told = date.max if asked.planned else asked.on
    only = Filter(channel=asked.channel, priced_by=told.isoformat())
    entries = entries_after(store, "listing", after, most + 1, only)
    rows: list[PriceChange] = []
    for entry in entries[:most]:
        in_force = price_in_force(store, entry.name, asked.on)
        planned = planned_prices(store, entry.name, asked.on) if asked.planned else []
        rows += [*([] if in_force is None else [in_force]), *planned]
    more = entries[most - 1].name if len(entries) > most else None
    return Page([told_item(store, row) for row in rows], more)


def changed(store: Database, asked: Selling, since: int, up_to: int, most: int) -> Page:
    """List what changed after one number and up to another, withdrawals too."""
    feed = Feed(asked.channel, since, up_to, asked.on, asked.planned)
    rows = prices_changed(store, feed, most + 1)
    more = str(rows[most - 1].change) if len(rows) > most else None
    return Page([told_item(store, row) for row in rows[:most]], more)


def prices_told(sheet: RateSheet, asked: Selling, newest: int, page: Page) -> Prices:
    """Tell a page of prices, with what holds for each order on a channel that the sheet has."""
    assert sheet.channels is not UNSET, "the channel is one of them"
    channel, multiple = sheet.channels[asked.channel], multiple_sold(sheet, asked.channel)
    return Prices(
        channel=asked.channel,
        prices_on=asked.on,
        currency=sheet.currency,
        prices_include_tax=channel.prices_include_tax,
        minimum_order=least_order(sheet, channel),
        multiple_of=multiple if multiple > 1 else UNSET,
        change=newest,
        items=page.items,
        next_cursor=UNSET if page.after is None else f"{newest}.{page.after}",
    )


def least_order(sheet: RateSheet, channel: Channel) -> Decimal | UnsetType:
    """Say what the goods of an order on a channel come to at least, if it has such a minimum."""
    least = channel.minimum_order
    return half_up(least, minor_digits(sheet.currency)) if least else UNSET

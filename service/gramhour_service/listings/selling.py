"""What is for sale on a channel, by sku; and what changed there since, by number."""

from datetime import date
from typing import NamedTuple

from sqlite_utils import Database

from gramhour.contract.prices import PriceItem
from gramhour_service.listings.told import told_item
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

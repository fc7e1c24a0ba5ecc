"""A store of the demo's rates with products, listings and prices."""

import sqlite3
from datetime import date, timedelta
from typing import Any

import msgspec
from sqlite_utils import Database

from gramhour.contract.listing import Listing, ProductEntry
from gramhour_service.listings.keeping import Ground, put_listing, put_product
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.entries import (
    Entry,
    EntryKind,
    Written,
    entry_of,
)
from gramhour_service.store.opening import writing
from gramhour_service.store.prices import (
    PriceChange,
    add_price,
)
from tests import demo
from tests.store.shops import NOON, TODAY

STAMP = "2026-11-25T12:00:00+00:00"
BREAKS = '[{"from_quantity":1,"unit_price":"9.90","unit_price_net":"8.32","unit_cost":"5.00"}]'
IN_SHOP = {"product": "pot", "channel": "own-shop"}
TOMORROW = TODAY + timedelta(days=1)


def product(*materials: str, **variants: dict[str, str]) -> ProductEntry:
    """Describe a product of some filaments, on the large machine."""
    feed = [{"material": each, "mass_g": "10"} for each in materials]
    described: dict[str, Any] = {"work": {"unit_min": "4"}}
    if feed:
        described["pieces"] = [{"machine": "large", "print_min": "30", "feed": feed}]
    swaps = [{"name": name, "materials": each} for name, each in variants.items()]
    return msgspec.convert({"product": described, "variants": swaps}, ProductEntry)


def listing(**members: Any) -> Listing:
    """Make a listing of the pot in the own shop."""
    return msgspec.convert(IN_SHOP | members, Listing)


def ground(store: Database, day: date = TODAY) -> Ground:
    """Write upon the demo's sheet."""
    in_force = Sheets(store).pinned(NOON).in_force
    return Ground(store, in_force.sheet, in_force.kept, day, Written("ada", NOON))


def price(sku: str, day: date, **other: Any) -> PriceChange:
    """Make a price as a repricing does."""
    made = PriceChange(0, sku, day.isoformat(), 0, "own-shop", BREAKS, None, 0, 1, day.isoformat(),
                       1, 1, "1", STAMP, "ada", "")  # fmt: skip
    return made._replace(**other)


def found(store: Database, kind: EntryKind, name: str) -> Entry:
    """Find a product or a listing that is there."""
    entry = entry_of(store, kind, name)
    assert entry is not None
    return entry


def made(store: Database) -> Ground:
    """Put in the demo's rates, a pot with a variant, a lid, two listings of the pot, a price."""
    import_sheet(store, demo.sheet(), now=NOON, made_by="ada")
    upon = ground(store)
    with writing(store):
        put_product(upon, "pot", product("asa-green", chalk={"asa-green": "pla-chalk"}))
        put_product(upon, "lid", product())
        put_listing(upon, "P-1", listing())
        put_listing(upon, "P-2", listing(variant="chalk"))
        for day in (TODAY, TOMORROW):
            add_price(store, price("P-1", day))
    return upon


def everything(connection: sqlite3.Connection) -> list[str]:
    """Write out all that is in a store."""
    return list(connection.iterdump())


def versions(plain: sqlite3.Connection, kind: str, name: str) -> list[tuple[int, Any, str]]:
    """List all versions of an entry: the number, what it was, who made it."""
    rows = plain.execute(
        "SELECT version, value, changed_by FROM entry_version WHERE kind = ? AND name = ? "
        "ORDER BY version",
        (kind, name),
    )
    return [(version, None if value is None else msgspec.json.decode(value), by)
            for version, value, by in rows]  # fmt: skip

"""Products and listings: as they are now, all versions of them, and which rates they use."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Literal, NamedTuple

from msgspec import json
from sqlite_utils import Database

from gramhour_service.store.price_in_force import in_force
from gramhour_service.store.rates import Key

EntryKind = Literal["product", "listing"]
NAME_OF: Mapping[EntryKind, str] = {"product": "code", "listing": "sku"}
Uses = Mapping[str, Collection[Key]]
"""The rates that a product uses, by variant; the product as described is the variant ``""``."""


class Entry(NamedTuple):
    """A product or a listing as it is stored: its value as JSON, its version, who made that."""

    name: str
    version: int
    value: str
    changed_at: str
    changed_by: str


class Written(NamedTuple):
    """Who writes, and when."""

    by: str
    at: datetime

    @property
    def stamp(self) -> str:
        """The moment as it is stored."""
        return self.at.astimezone(UTC).isoformat(timespec="seconds")


class Filter(NamedTuple):
    """Which listings: by channel, product, a rate that they use, or a price under their floor.

    ``using`` are the channels that use that rate. ``priced_by`` is a day by which a price came into
    force there.
    """

    channel: str | None = None
    product: str | None = None
    uses: Key | None = None
    using: Collection[str] = ()
    below_floor: bool = False
    on: str = ""
    priced_by: str | None = None

    def conditions(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Give each as SQL with its values."""
        if self.channel is not None:
            yield "channel = ?", (self.channel,)
        if self.product is not None:
            yield "product = ?", (self.product,)
        if self.uses is not None:
            yield (
                "((product, variant) IN "  # noqa: S608 (our own words)
                "(SELECT product, variant FROM product_use WHERE kind = ? AND code = ?) "
                f"OR channel IN ({', '.join('?' * len(self.using))}))",
                (*self.uses, *self.using),
            )
        if self.priced_by is not None:
            yield (
                "EXISTS (SELECT 1 FROM price_change p WHERE p.sku = listing.sku "
                "AND p.channel = listing.channel AND p.effective_from <= ?)",
                (self.priced_by,),
            )
        if self.below_floor:
            price = in_force("p.under_floor", "listing.sku", "day.value")
            yield f"(SELECT ({price}) FROM (SELECT ? AS value) AS day)", (self.on,)  # noqa: S608


COLUMNS = ", ".join(Entry._fields[1:])
ALL = Filter()


def entry_of(store: Database, kind: EntryKind, name: str) -> Entry | None:
    """Find a product or a listing."""
    row = store.conn.execute(
        f"SELECT {NAME_OF[kind]}, {COLUMNS} FROM {kind} WHERE {NAME_OF[kind]} = ?",  # noqa: S608
        (name,),
    ).fetchone()
    return None if row is None else Entry._make(row)


def listed_entry(store: Database, sku: str) -> tuple[str, str] | None:
    """Find what is listed under a sku: the values of the listing and of its product."""
    row: tuple[str, str] | None = store.conn.execute(
        "SELECT l.value, p.value FROM listing l JOIN product p ON p.code = l.product "
        "WHERE l.sku = ?",
        (sku,),
    ).fetchone()
    return row


def entries_named(store: Database, kind: EntryKind, names: Iterable[str]) -> dict[str, Entry]:
    """Find several products or listings, by their names; those that are missing are left out."""
    rows = store.conn.execute(
        f"SELECT {NAME_OF[kind]}, {COLUMNS} FROM {kind} "  # noqa: S608 (our own words)
        f"WHERE {NAME_OF[kind]} IN (SELECT value FROM json_each(?))",
        (json.encode([*names]).decode(),),
    )
    return {row[0]: Entry._make(row) for row in rows}


def entries_after(
    store: Database, kind: EntryKind, after: str, most: int, only: Filter = ALL
) -> list[Entry]:
    """List products or listings whose names come after one, in their order."""
    conditions = list(only.conditions())
    where = "".join(f" AND {condition}" for condition, _ in conditions)
    values = [value for _, each in conditions for value in each]
    rows = store.conn.execute(
        f"SELECT {NAME_OF[kind]}, {COLUMNS} FROM {kind} "  # noqa: S608 (our own words)
        f"WHERE {NAME_OF[kind]} > ?{where} ORDER BY {NAME_OF[kind]} LIMIT ?",
        (after, *values, most),
    )
    return [Entry._make(row) for row in rows]


def names_like(store: Database, kind: EntryKind, name: str, most: int) -> list[str]:
    """List names that begin as one does, by its first two letters, large or small.

    One that differs in that alone comes first.
    """
    of, found = NAME_OF[kind], dict[str, None]()
    for way in (name, name.upper(), name.lower()):
        rows = store.conn.execute(
            f"SELECT {of} FROM {kind} WHERE {of} >= ?1 AND {of} < ?2 "  # noqa: S608 (our own words)
            f"ORDER BY {of} <> ?3, {of} LIMIT ?4",
            (way[:2], way[:2] + "\x7f", way, most),
        )
        found |= dict.fromkeys(row[0] for row in rows)
    return [*found]


def put_entry(store: Database, kind: EntryKind, name: str, value: str, written: Written) -> int:
    """Put a product or a listing in place of what it is, within ``writing``; say its version.

    A listing that is changed has to be looked at by the next repricing.
    """
    version: int = store.conn.execute(
        "SELECT coalesce(max(version), 0) + 1 FROM entry_version WHERE kind = ? AND name = ?",
        (kind, name),
    ).fetchone()[0]
    looked_at = ", looked_at_revision = NULL, looked_at_day = NULL" if kind == "listing" else ""
    store.conn.execute(
        f"INSERT INTO {kind} ({NAME_OF[kind]}, {COLUMNS}) VALUES (?, ?, ?, ?, ?) "  # noqa: S608
        f"ON CONFLICT DO UPDATE SET version = excluded.version, value = excluded.value, "
        f"changed_at = excluded.changed_at, changed_by = excluded.changed_by{looked_at}",
        (name, version, value, written.stamp, written.by),
    )
    return version


def take_entry_away(store: Database, kind: EntryKind, entry: Entry, written: Written) -> None:
    """Take a product or a listing away, within ``writing``; what it was stays readable."""
    store.conn.execute(
        "INSERT INTO entry_version VALUES (?, ?, ?, NULL, ?, ?)",
        (kind, entry.name, entry.version + 1, written.stamp, written.by),
    )
    store.conn.execute(f"DELETE FROM {kind} WHERE {NAME_OF[kind]} = ?", (entry.name,))  # noqa: S608


def put_uses(store: Database, product: str, uses: Uses) -> None:
    """Put which rates a product uses; its listings have to be looked at by the next repricing."""
    store.conn.execute("DELETE FROM product_use WHERE product = ?", (product,))
    store.conn.executemany(
        "INSERT INTO product_use VALUES (?, ?, ?, ?)",
        [(product, variant, *key) for variant, keys in uses.items() for key in sorted(keys)],
    )
    store.conn.execute(
        "UPDATE listing SET looked_at_revision = NULL, looked_at_day = NULL "
        "WHERE product = ? AND looked_at_revision IS NOT NULL",
        (product,),
    )


def listings_of(store: Database, product: str, most: int) -> list[str]:
    """Name listings of a product."""
    rows = store.conn.execute(
        "SELECT sku FROM listing WHERE product = ? ORDER BY sku LIMIT ?", (product, most)
    )
    return [row[0] for row in rows]


def variants_listed(store: Database, product: str) -> dict[str, str]:
    """Say of each variant that is listed one listing of it."""
    rows = store.conn.execute(
        "SELECT variant, min(sku) FROM listing WHERE product = ? AND variant <> '' "
        "GROUP BY variant",
        (product,),
    )
    return dict(rows.fetchall())


def users_of(store: Database, keys: Iterable[Key], most: int) -> list[tuple[Key, str]]:
    """Name products, and listings on channels, that use rates: each rate with who uses it."""
    found: list[tuple[Key, str]] = []
    for key in keys:
        rows = store.conn.execute(
            "SELECT DISTINCT 'product ' || product FROM product_use WHERE kind = ? AND code = ? "
            "UNION ALL SELECT 'listing ' || sku FROM listing WHERE ? = 'channels' AND channel = ? "
            "LIMIT ?",
            (*key, *key, most - len(found)),
        )
        found += [(key, row[0]) for row in rows]
    return found

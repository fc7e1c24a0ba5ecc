"""All products or listings as rows that can be sent back: a line or a CSV row each.

They are read from the store a page at a time, so that no export holds a store's worth of them.
"""

from collections.abc import Callable, Iterator
from typing import Any

from msgspec import json
from sqlite_utils import Database

from gramhour.contract.documents import parse_json
from gramhour_service.sheets.cells import LISTINGS
from gramhour_service.sheets.csv_kind import written_rows
from gramhour_service.store.entries import ALL, Entry, EntryKind, Filter, entries_after

READ_AT_ONCE = 500
Read = Callable[[Callable[[Database], Any]], Any]
"""Reads something from the store."""


def product_lines(read: Read) -> Iterator[bytes]:
    """Write all products, a line each, and a last line that says how many there are."""
    return lines_with_end(_named(entry, "code") for entry in _all(read, "product", ALL))


def listing_lines(read: Read, only: Filter) -> Iterator[bytes]:
    """Write listings, a line each, and a last line that says how many there are."""
    return lines_with_end(_named(entry, "sku") for entry in _all(read, "listing", only))


def listing_table(read: Read, only: Filter) -> Iterator[bytes]:
    """Write listings as CSV, the header first."""
    yield written_rows(LISTINGS, {}).encode()
    for entry in _all(read, "listing", only):
        value = parse_json(entry.value.encode())
        yield written_rows(LISTINGS, {entry.name: value}, header=False).encode()


def _all(read: Read, kind: EntryKind, only: Filter) -> Iterator[Entry]:
    after = ""
    while True:
        entries = read(_page(kind, after, only)) or []
        yield from entries
        if len(entries) < READ_AT_ONCE:
            return
        after = entries[-1].name


def _page(kind: EntryKind, after: str, only: Filter) -> Callable[[Database], list[Entry]]:
    return lambda store: entries_after(store, kind, after, READ_AT_ONCE, only)


def _named(entry: Entry, member: str) -> bytes:
    """Put an entry's name first in its JSON object, which has members already."""
    return b'{"%s":%s,%s' % (member.encode(), json.encode(entry.name), entry.value[1:].encode())


def lines_with_end(rows: Iterator[bytes]) -> Iterator[bytes]:
    """Write rows as lines, and a last one that says that nothing was cut off."""
    done = 0
    for row in rows:
        yield row + b"\n"
        done += 1
    yield b'{"done":%d}\n' % done

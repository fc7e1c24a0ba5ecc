"""Listings sent as CSV: rows laid over what is stored, as columns that are not sent stay."""

from sqlite_utils import Database

from gramhour.contract.documents import parse_json
from gramhour.contract.problem import Fault, Refused
from gramhour_service.listings.rows import SentRow
from gramhour_service.sheets.cells import LISTINGS
from gramhour_service.sheets.csv_kind import Row, Rows, merged, read_each
from gramhour_service.store.entries import entry_of


def read_listing_rows(body: bytes, most: int | None = None) -> Rows:
    """Read a CSV file of listings, rows with faults too; of more than ``most`` one more.

    Raises ``Refused`` for what is none.
    """
    return read_each(LISTINGS, body, "invalid-request", most)


def laid_over(store: Database, rows: Rows) -> list[SentRow]:
    """Lay each row over the listing as it is stored."""
    return [_laid(store, row) for row in rows.rows]


def _laid(store: Database, row: Row) -> SentRow:
    if row.faults:
        faults = tuple(Fault("", fault.detail) for fault in row.faults)
        return SentRow({"sku": row.code}, row.line, Refused("invalid-request", faults))
    entry = entry_of(store, "listing", row.code)
    before = {} if entry is None else parse_json(entry.value.encode())
    return SentRow({"sku": row.code, **merged(row, before)}, row.line, in_columns=True)

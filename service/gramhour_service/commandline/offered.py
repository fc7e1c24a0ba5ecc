"""Takes products and listings in: into the store in one piece, or into a service in parts."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.stored_listing import RowOutcomes
from gramhour.errors import Refusal
from gramhour_service.commandline.refusals import placed
from gramhour_service.commandline.rows_in import (
    Part,
    RowsFile,
    parts_for_service,
    placed_in_file,
    read_file,
    rows_for_store,
)
from gramhour_service.commandline.service import asked_service, refused_by
from gramhour_service.commandline.store import now, opened
from gramhour_service.http.forms_sent import MOST_ROWS
from gramhour_service.listings.keeping import Ground
from gramhour_service.listings.rows import NotKept, put_rows
from gramhour_service.sheets.in_force import Pinned, Sheets
from gramhour_service.store.entries import EntryKind, Written
from gramhour_service.store.opening import writing

MADE_BY = "command line"
NOTHING = RowOutcomes(added=0, changed=0, unchanged=0, refused=0, rows=[])


def rates_today(store: Database) -> Pinned:
    """Find today's rates. Raises ``Refused`` if there are none."""
    today = Sheets(store).pinned_today(now())
    if today is None:
        detail = "no rates are in force; import a sheet first: gramhour rates import SHEET"
        raise Refused("no-rates", (Fault("", detail),))
    return today


def take_into_store(kind: EntryKind, file: str, path: Path) -> RowOutcomes:
    """Take all rows of a file into the store, or none. Raises ``NotAnswered``."""
    try:
        read = read_file(kind, file)
        with opened(path) as store, writing(store):
            today = rates_today(store)
            ground = Ground(
                store,
                today.in_force.sheet,
                today.in_force.kept,
                today.on,
                Written(MADE_BY, now()),
            )
            return put_rows(ground, kind, rows_for_store(store, read), all_or_none=True)
    except NotKept as error:
        raise placed(Refused("invalid-request", error.faults), file) from None
    except Refused as refused:
        raise placed(refused, file) from None


def take_into_service(kind: EntryKind, file: str, url: str, key: str | None) -> RowOutcomes:
    """Send all rows of a file to a service, in as many parts as it needs.

    Raises ``NotAnswered``; parts before the one that is refused were kept, which is told.
    """
    try:
        read = read_file(kind, file)
        parts = parts_for_service(read)
    except Refused as refused:
        raise placed(refused, file) from None
    if len(parts) > 1:
        rows = parts[-1].before + parts[-1].rows
        click.echo(
            f"{rows} rows are sent in {len(parts)} parts of at most {MOST_ROWS}, each kept whole "
            "or not at all.",
            err=True,
        )
    outcomes = NOTHING
    with asked_service(url, key) as client:
        put = client.put_products if kind == "product" else client.put_listings
        for part in parts:
            with _told_in_file(part, read):
                outcomes = _together(outcomes, put(part.body), part)
    return outcomes


@contextmanager
def _told_in_file(part: Part, read: RowsFile) -> Iterator[None]:
    """Tell what a service says of a part by the file's own lines."""
    try:
        yield
    except Refusal as refusal:
        if part.before:
            click.echo(f"Rows 1 to {part.before} of {read.file} were kept.", err=True)
        refused = refused_by(refusal)
        if refused.type not in ("invalid-request", "malformed-document"):
            raise
        faults = tuple(placed_in_file(fault, part, read) for fault in refused.faults)
        raise placed(Refused(refused.type, faults), read.file) from None


def _together(so_far: RowOutcomes, more: RowOutcomes, part: Part) -> RowOutcomes:
    rows = [replace(row, row=row.row + part.before) for row in more.rows]
    return RowOutcomes(
        added=so_far.added + more.added,
        changed=so_far.changed + more.changed,
        unchanged=so_far.unchanged + more.unchanged,
        refused=so_far.refused + more.refused,
        rows=[*so_far.rows, *rows],
    )

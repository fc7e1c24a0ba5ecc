"""What commands tell of stored rates: which sheet is meant, and one rate as a person reads it."""

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click
import msgspec
from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.commandline.days import Day
from gramhour_service.commandline.files import read_document
from gramhour_service.commandline.meant import SHEET
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, placed
from gramhour_service.commandline.store import now, opened
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.asked import no_such_sheet
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned, Sheets
from gramhour_service.sheets.rows import plain_value
from gramhour_service.store.rates import Change

MOST_PLANNED = 3
on_option = click.option("--on", "on", type=Day(), metavar="DAY", help="In force on that day.")
revision_option = click.option(
    "--revision", type=click.IntRange(1), metavar="N", help="As known at that revision."
)


sheet_option = click.option(
    "--rates", "sheet_file", metavar="SHEET", help="A rate sheet, TOML or JSON, not the stored one."
)
STORED = "the stored rates"


def sheet_wanted(sheet_file: str | None, store_path: Path) -> tuple[RateSheet, str]:
    """Read the sheet that is named, else that of the store; say its name.

    Raises ``NotAnswered``.
    """
    if sheet_file is not None:
        return sheet_of_file(sheet_file), sheet_file
    with opened(store_path) as store:
        return pinned_sheet(store, store_path, None, None).in_force.sheet, STORED


def sheet_of_file(sheet_file: str) -> RateSheet:
    """Read a rate sheet of a file. Raises ``NotAnswered`` with every fault found."""
    try:
        return sound_sheet(read_document(sheet_file, SHEET).says)
    except Refused as refused:
        raise placed(refused, sheet_file) from None


def pinned_sheet(store: Database, path: Path, revision: int | None, on: datetime | None) -> Pinned:
    """Find the sheet asked for. Raises ``NotAnswered`` if there is none."""
    try:
        return Sheets(store).pinned(now(), revision, on.date() if on else None)
    except (NoSuchRevision, NothingInForce) as error:
        raise nothing_kept(path, no_such_sheet(error)) from None


def nothing_kept(where: Path | str, detail: str) -> NotAnswered:
    """Say that there is no such rate where it was looked for."""
    return NotAnswered("unknown-rate", [PlacedFault(str(where), "", detail)])


def told_change(change: Change) -> dict[str, Any]:
    """Tell a stored rate for ``--json``; one that is taken away has null."""
    return {
        "kind": change.kind,
        "code": change.code,
        "changed_in": change.revision,
        "in_force_from": change.effective_from,
        "value": None if change.value is None else plain_value(change),
    }


def planned_in_words(planned: Sequence[Change]) -> str:
    """Say which changes are planned for the next day that has some, and how many later ones."""
    day = planned[0].effective_from
    names = [f"{each.kind}/{each.code}" for each in planned if each.effective_from == day]
    named = ", ".join(names[:MOST_PLANNED])
    more = f" and {len(names) - MOST_PLANNED} more" if len(names) > MOST_PLANNED else ""
    later = len(planned) - len(names)
    return f"Planned: {named}{more} from {day} on{f'; {later} more later' if later else ''}."


def compact(value: Any) -> str:
    """Write a value of a member: a text as it is, all else as JSON in a line."""
    return value if isinstance(value, str) else msgspec.json.encode(value).decode()


def first_day(planned: Sequence[Change]) -> date | None:
    """Say the next day on which a planned change comes into force."""
    return date.fromisoformat(planned[0].effective_from) if planned else None

"""The command that takes rates into the store: a whole sheet, or rows of one kind."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import NamedTuple

import click
from sqlite_utils import Database

from gramhour.contract.problem import Refused, sendable
from gramhour.contract.times import FIRST_DAY, LAST_DAY
from gramhour_service.commandline.days import Day
from gramhour_service.commandline.files import read_body, read_document
from gramhour_service.commandline.meant import SHEET, check_table
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.slips import in_store, tell_cautions, tell_near
from gramhour_service.commandline.store import (
    json_option,
    now,
    opened,
    store_option,
    written_json,
)
from gramhour_service.commandline.stored import first_day, planned_in_words, told_change
from gramhour_service.http.told import cautions_of_left_out, cautions_of_saved
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.resolve.unlikely import as_cautions
from gramhour_service.resolve.usual import unusual_in_sheet
from gramhour_service.sheets.csv_importing import import_rows
from gramhour_service.sheets.csv_kind import read_rows
from gramhour_service.sheets.rows import ALL_KINDS
from gramhour_service.sheets.saving import Dated, Saved, import_sheet
from gramhour_service.store.rates import Change, newest_revision, planned_changes

MADE_BY = "command line"
MOST_NAMED = 20


class Imported(NamedTuple):
    """What an import did, and the changes that are planned for later days."""

    saved: Saved
    planned: list[Change]


def _sendable(_: click.Context, __: click.Parameter, text: str) -> str:
    """Refuse a text that is not UTF-8."""
    if text != sendable(text):
        raise click.BadParameter("this is not UTF-8; set the terminal to it")
    return text


@click.command("import", cls=Once, short_help="Take rates into the store.")
@click.argument("file")
@click.option(
    "--kind",
    type=click.Choice(ALL_KINDS),
    metavar="KIND",
    help=f"FILE is CSV with rates of a kind, a row each: {', '.join(ALL_KINDS)}.",
)
@click.option("--note", default="", callback=_sendable, help="Why; kept with the revision.")
@click.option(
    "--from",
    "effective_from",
    type=Day(),
    metavar="DAY",
    help="In force from that day on; today unless said.",
)
@store_option
@json_option
@told_when_refused
def import_rates(
    *,
    file: str,
    kind: str | None,
    note: str,
    effective_from: datetime | None,
    store_path: Path,
    as_json: bool,
) -> None:
    """Take the whole sheet in FILE (TOML or JSON; - is standard input) into the store.

    What differs from the stored rates makes one new revision; if nothing does, there is none.
    With --kind, FILE is CSV as `gramhour rates export KIND` writes it: each row adds or changes
    a rate, none is removed, and a column that is not there changes nothing.
    """
    dated = Dated(now(), MADE_BY, note, _day(effective_from))
    try:
        _check_form(file, kind)
        if kind is None:
            imported = _take_sheet(file, store_path, dated)
        else:
            imported = _take_rows(kind, file, store_path, dated)
    except Refused as refused:
        raise placed(refused, file) from None
    click.echo(_as_json(imported) if as_json else "\n".join(_told(imported)))


def _check_form(file: str, kind: str | None) -> None:
    """Refuse what cannot be meant: listings, CSV without its kind, a whole sheet with one."""
    ending = Path(file).suffix.lower()
    if kind is None and ending == ".csv":
        check_table(file, read_body(file), "a table of rates (CSV)")
        kinds = ", ".join(ALL_KINDS)
        raise click.UsageError(f"CSV has rates of one kind; say which with --kind ({kinds})")
    if kind is not None and ending in (".toml", ".json"):
        raise click.UsageError("--kind is for CSV; a TOML or JSON file has the whole sheet")


def _take_sheet(file: str, store_path: Path, dated: Dated) -> Imported:
    sheet = sound_sheet(read_document(file, SHEET).says)
    with opened(store_path, create=True) as store:
        saved = import_sheet(
            store,
            sheet,
            now=dated.now,
            made_by=dated.made_by,
            note=dated.note,
            effective_from=dated.effective_from,
        )
        cautions = as_cautions(unusual_in_sheet(sheet))
        tell_cautions((*cautions, *cautions_of_left_out(saved)))
        return _with_planned(store, saved)


def _take_rows(kind: str, file: str, store_path: Path, dated: Dated) -> Imported:
    body = read_body(file)
    check_table(file, body, f"a table of {kind} (CSV)")
    rows = read_rows(kind, body)
    with opened(store_path) as store:
        saved = import_rows(store, rows, dated)
        tell_cautions(cautions_of_saved(saved))
        tell_near(set(saved.added), in_store(store))
        return _with_planned(store, saved)


def _with_planned(store: Database, saved: Saved) -> Imported:
    return Imported(saved, planned_changes(store, newest_revision(store), saved.effective_from))


def _day(moment: datetime | None) -> date | None:
    """Read a day within the bounds of the contract's."""
    if moment is not None and not FIRST_DAY <= moment.date() <= LAST_DAY:
        raise click.BadParameter(f"--from must be from {FIRST_DAY} to {LAST_DAY}")
    return moment.date() if moment else None


def _told(imported: Imported) -> Iterator[str]:
    """Say in words what an import did."""
    saved = imported.saved
    if saved.revision is None:
        yield "Nothing differs from the stored rates; no revision was made."
    else:
        yield from _told_revision(saved)
    if imported.planned:
        yield planned_in_words(imported.planned)


def _told_revision(saved: Saved) -> Iterator[str]:
    done = [saved.done(key) for key in saved.changes]
    yield (
        f"Revision {saved.revision}, in force from {saved.effective_from}: "
        f"{_count(done, 'added')}, {_count(done, 'changed')}, {_count(done, 'removed')}."
    )
    if len(done) - done.count("added") <= MOST_NAMED:
        yield from (f"  {'/'.join(key)}: {saved.done(key)}" for key in saved.changes)
    for change in saved.overruled_by:
        yield (
            f"  {change.kind}/{change.code}: from {change.effective_from} on the change planned in "
            f"revision {change.revision} holds instead"
        )


def _count(done: Sequence[str], word: str) -> str:
    return f"{done.count(word)} {word}"


def _as_json(imported: Imported) -> bytes:
    saved = imported.saved
    told = {
        "rates_revision": saved.revision,
        "effective_from": saved.effective_from,
        "changes": [
            {"kind": key[0], "code": key[1], "done": saved.done(key)} for key in saved.changes
        ],
        "overruled_by": [told_change(change) for change in saved.overruled_by],
        "next_planned": first_day(imported.planned),
    }
    return written_json(told)

"""The rates commands: a whole sheet into the store and out of it, and what is in force."""

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click
import tomli_w
from sqlite_utils import Database

from gramhour.contract.documents import parse_json
from gramhour.contract.leaves import FIRST_DAY, LAST_DAY
from gramhour.contract.problem import Refused, sendable
from gramhour_service.commandline.files import read_document
from gramhour_service.commandline.refusals import (
    NotAnswered,
    PlacedFault,
    placed,
    told_when_refused,
)
from gramhour_service.commandline.screen import paragraph, screen, show_texts
from gramhour_service.commandline.store import (
    json_option,
    now,
    opened,
    store_option,
    written_json,
)
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.asked import no_such_sheet
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned, Sheets
from gramhour_service.sheets.rows import ALL_KINDS, SHOP, plain_sheet
from gramhour_service.sheets.saving import Saved, import_sheet
from gramhour_service.store.rates import Change, Key

MADE_BY = "command line"
MOST_NAMED = 20
on_option = click.option(
    "--on", "on", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="In force on that day."
)
revision_option = click.option(
    "--revision", type=click.IntRange(1), metavar="N", help="As known at that revision."
)


def _sendable(_: click.Context, __: click.Parameter, text: str) -> str:
    """Refuse a text that is not UTF-8."""
    if text != sendable(text):
        raise click.BadParameter("this is not UTF-8; set the terminal to it")
    return text


@click.group(short_help="The stored rates.")
def rates() -> None:
    """The stored rates: every change is a new revision, and the old ones stay readable."""


@rates.command("import", short_help="Take a whole rate sheet into the store.")
@click.argument("file")
@click.option("--note", default="", callback=_sendable, help="Why; kept with the revision.")
@click.option(
    "--from",
    "effective_from",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DAY",
    help="In force from that day on; today unless said.",
)
@store_option
@json_option
@told_when_refused
def import_(
    *, file: str, note: str, effective_from: datetime | None, store_path: Path, as_json: bool
) -> None:
    """Take the whole sheet in FILE (TOML or JSON; - is standard input) into the store.

    What differs from the stored rates makes one new revision; if nothing does, there is none.
    """
    try:
        sheet = sound_sheet(read_document(file).says)
        with opened(store_path, create=True) as store:
            imported = import_sheet(
                store,
                sheet,
                now=now(),
                made_by=MADE_BY,
                note=note,
                effective_from=_day(effective_from),
            )
    except Refused as refused:
        raise placed(refused, file) from None
    click.echo(_as_json(imported) if as_json else "\n".join(_told(imported)))


def _day(moment: datetime | None) -> date | None:
    """Read a day within the bounds of the contract's."""
    if moment is not None and not FIRST_DAY <= moment.date() <= LAST_DAY:
        raise click.BadParameter(f"--from must be from {FIRST_DAY} to {LAST_DAY}")
    return moment.date() if moment else None


@rates.command("export", short_help="Print the stored sheet.")
@on_option
@revision_option
@store_option
@json_option
@told_when_refused
def export(*, on: datetime | None, revision: int | None, store_path: Path, as_json: bool) -> None:
    """Print the whole sheet in force, as TOML, or as JSON with --json: import takes it back."""
    with opened(store_path) as store:
        sheet = plain_sheet(_pinned(store, store_path, revision, on).in_force.sheet)
    click.echo(written_json(sheet) if as_json else tomli_w.dumps(sheet), nl=as_json)


@rates.command("show", short_help="Show what is stored: all, a kind, or one rate.")
@click.argument("kind", required=False, type=click.Choice(ALL_KINDS))
@click.argument("code", required=False)
@on_option
@revision_option
@store_option
@json_option
@told_when_refused
def show(
    *,
    kind: str | None,
    code: str | None,
    on: datetime | None,
    revision: int | None,
    store_path: Path,
    as_json: bool,
) -> None:
    """Show the stored rates: how many of each KIND, all of one, or the one with a CODE."""
    with opened(store_path) as store:
        pinned = _pinned(store, store_path, revision, on)
    changes = [
        change
        for change in pinned.in_force.present
        if kind in (None, change.kind) and code in (None, change.code)
    ]
    if not changes:
        raise _nothing(store_path, f"nothing is kept under {'/'.join(filter(None, (kind, code)))}")
    if as_json:
        click.echo(written_json([_told_change(change) for change in changes]))
    elif code is not None:
        click.echo(f"# {_since(changes[0])}\n{_as_toml(changes[0])}", nl=False)
    else:
        _show_list(pinned, changes)


def _show_list(pinned: Pinned, changes: list[Change]) -> None:
    console = screen()
    rows = [(change.kind, change.code, _named(change), _since(change)) for change in changes]
    show_texts(console, ("Kind", "Code", "Name or value", "Known and in force"), rows)
    paragraph(
        console, f"Revision {pinned.in_force.revision} of the rates, on {pinned.on}.", style="dim"
    )


def _pinned(store: Database, path: Path, revision: int | None, on: datetime | None) -> Pinned:
    """Find the sheet asked for. Raises ``NotAnswered`` if there is none."""
    try:
        return Sheets(store).pinned(now(), revision, on.date() if on else None)
    except (NoSuchRevision, NothingInForce) as error:
        raise _nothing(path, no_such_sheet(error)) from None


def _nothing(path: Path, detail: str) -> NotAnswered:
    return NotAnswered("unknown-rate", [PlacedFault(str(path), "", detail)])


def _value(change: Change) -> Any:
    assert change.value is not None
    return parse_json(change.value.encode())


def _named(change: Change) -> str:
    """Name a rate as people do; of what is sheet-wide, show the value."""
    value = _value(change)
    if isinstance(value, dict):
        return str(value.get("name", ""))
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _since(change: Change) -> str:
    return f"revision {change.revision}, from {change.effective_from}"


def _as_toml(change: Change) -> str:
    value = _value(change)
    if change.kind == SHOP:
        return tomli_w.dumps({change.code: value})
    return tomli_w.dumps({change.kind: {change.code: value}})


def _told_change(change: Change) -> dict[str, Any]:
    return {
        "kind": change.kind,
        "code": change.code,
        "changed_in": change.revision,
        "in_force_from": change.effective_from,
        "value": _value(change),
    }


def _told(imported: Saved) -> Iterator[str]:
    """Say in words what an import did."""
    if imported.revision is None:
        yield "Nothing differs from the stored rates; no revision was made."
        return
    removed = [key for key, value in imported.changes.items() if value is None]
    changed = imported.changes.keys() - imported.added - set(removed)
    yield (
        f"Revision {imported.revision}, in force from {imported.effective_from}: "
        f"{len(imported.added)} added, {len(changed)} changed, {len(removed)} removed."
    )
    if len(changed) + len(removed) <= MOST_NAMED:
        yield from (f"  {'/'.join(key)}: {_done(imported, key)}" for key in imported.changes)
    for change in imported.overruled_by:
        yield (
            f"  {change.kind}/{change.code}: from {change.effective_from} on the change planned in "
            f"revision {change.revision} holds instead"
        )


def _done(imported: Saved, key: Key) -> str:
    if imported.changes[key] is None:
        return "removed"
    return "added" if key in imported.added else "changed"


def _as_json(imported: Saved) -> bytes:
    told = {
        "rates_revision": imported.revision,
        "effective_from": imported.effective_from,
        "changes": [
            {"kind": key[0], "code": key[1], "done": _done(imported, key)}
            for key in imported.changes
        ],
        "overruled_by": [_told_change(change) for change in imported.overruled_by],
    }
    return written_json(told)

"""The rates change command: single rates changed as one revision, or only tried."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import click
from msgspec import UNSET, to_builtins

from gramhour.contract.changes import RateChanges, SavedChanges
from gramhour.contract.problem import Refused
from gramhour.contract.reading import read_changes
from gramhour_service.commandline.days import Day
from gramhour_service.commandline.files import read_document
from gramhour_service.commandline.meant import CHANGES
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import (
    NotAnswered,
    PlacedFault,
    placed,
    told_when_refused,
)
from gramhour_service.commandline.service import (
    asked_service,
    is_typed,
    service_asked,
    service_options,
)
from gramhour_service.commandline.slips import in_service, present_in, tell_cautions, tell_near
from gramhour_service.commandline.store import now, opened, written_json
from gramhour_service.http.told import saved_changes
from gramhour_service.sheets.changing import change_rates
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.rates import newest_revision

MADE_BY = "command line"
NO_REVISION = 0


@click.command("change", cls=Once, short_help="Change single rates, or try it.")
@click.argument("file")
@click.option(
    "--from",
    "effective_from",
    type=Day(),
    metavar="DAY",
    help="In force from then on; else as FILE says, else from today.",
)
@click.option("--note", help="Why; kept with the revision.")
@click.option("--trial", is_flag=True, help="Check and tell; save nothing.")
@service_options
@told_when_refused
def change(
    *,
    file: str,
    trial: bool,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Make the changes in FILE (TOML or JSON; - is standard input) one revision of the rates.

    FILE has [[changes]] with kind, code and value (the rate, whole) or remove = true (it is taken
    away), as `gramhour reprice --propose` reads it. It may say effective_from, note and
    based_on_revision too; without the last it is based on the newest one.
    """
    service = service_asked(url)
    sent = _read(file, _said(options["effective_from"], options["note"]))
    if service is None:
        saved = _by_store(sent, file, store_path, trial=trial)
    else:
        saved = _by_service(sent, service, key, trial=trial)
    click.echo(written_json(saved) if as_json else "\n".join(_told(saved)))
    tell_cautions(saved.cautions)
    added = {(each.kind, each.code) for each in saved.changes if each.done == "added"}
    if added:
        tell_near(added, present_in(store_path) if service is None else in_service(service, key))


def _said(effective_from: datetime | None, note: str | None) -> dict[str, Any]:
    day = None if effective_from is None else effective_from.date().isoformat()
    said = {"effective_from": day, "note": note}
    return {name: value for name, value in said.items() if value is not None}


def _read(file: str, says: dict[str, Any]) -> dict[str, Any]:
    """Read what is to be changed as plain values. Raises ``NotAnswered``."""
    try:
        read = to_builtins(read_document(file, CHANGES).says)
        sent = {**read, **says} if isinstance(read, dict) else read
        read_changes({"based_on_revision": NO_REVISION, **sent} if sent is not read else sent)
    except Refused as refused:
        raise _placed(refused, file) from None
    assert isinstance(sent, dict), "the reader refuses anything else"
    return sent


def _placed(refused: Refused, file: str) -> NotAnswered:
    """Place faults in the file, or at the options that say what would stand there."""
    by_options = {
        "/effective_from": "--from" if is_typed("effective_from") else None,
        "/note": "--note" if is_typed("note") or is_typed("effective_from") else None,
    }
    told = placed(refused, file)
    return NotAnswered(
        told.kind,
        (
            PlacedFault("gramhour rates change", option, fault.detail)
            if (option := by_options.get(fault.pointer))
            else fault
            for fault in told.faults
        ),
    )


def _by_store(sent: dict[str, Any], file: str, path: Path, *, trial: bool) -> SavedChanges:
    try:
        with opened(path) as store:
            newest = newest_revision(store)
            changes: RateChanges = read_changes({"based_on_revision": newest, **sent})
            dated = Dated(
                now(),
                MADE_BY,
                "" if changes.note is UNSET else changes.note,
                None if changes.effective_from is UNSET else changes.effective_from,
            )
            return saved_changes(change_rates(store, changes, dated, trial=trial), trial=trial)
    except Refused as refused:
        raise _placed(refused, file) from None


def _by_service(sent: dict[str, Any], url: str, key: str | None, *, trial: bool) -> SavedChanges:
    with asked_service(url, key) as client:
        newest = client.revisions(limit=1).items
        based_on = newest[0].rates_revision if newest else NO_REVISION
        changes = read_changes({"based_on_revision": based_on, **sent})
        return client.change_rates(
            changes.changes,
            based_on_revision=changes.based_on_revision,
            effective_from=None if changes.effective_from is UNSET else changes.effective_from,
            note=None if changes.note is UNSET else changes.note,
            trial=trial,
        )


def _told(saved: SavedChanges) -> Iterator[str]:
    """Say in words what was changed."""
    if saved.rates_revision is UNSET:
        yield "Nothing differs from the stored rates; no revision was made."
        return
    would = "Tried, not saved: revision" if saved.trial else "Revision"
    yield f"{would} {saved.rates_revision}, in force from {saved.effective_from}:"
    yield from (f"  {each.kind}/{each.code}: {each.done}" for each in saved.changes)
    for planned in saved.overruled_by:
        yield (
            f"  {planned.kind}/{planned.code}: from {planned.effective_from} on the change planned "
            f"in revision {planned.rates_revision} holds instead"
        )

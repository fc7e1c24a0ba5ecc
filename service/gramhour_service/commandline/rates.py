"""The rates commands: what is in force, on the screen and as a file."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click
import tomli_w

from gramhour.contract.noting import meant
from gramhour_service.commandline.history import changes, history
from gramhour_service.commandline.importing import import_rates
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.rate_changing import change
from gramhour_service.commandline.refusals import told_when_refused
from gramhour_service.commandline.screen import paragraph, screen, show_texts
from gramhour_service.commandline.store import json_option, opened, store_option, written_json
from gramhour_service.commandline.stored import (
    compact,
    nothing_kept,
    on_option,
    pinned_sheet,
    revision_option,
    since,
    told_change,
)
from gramhour_service.sheets.csv_kind import written_rows
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.sheets.rows import ALL_KINDS, SHOP, plain_sheet, plain_value
from gramhour_service.store.rates import Change


@click.group(cls=Several, short_help="The stored rates.")
def rates() -> None:
    """The stored rates: every change is a new revision, and the old ones stay readable."""


@rates.command("export", short_help="Print the stored sheet, or one kind as CSV.")
@click.argument("kind", required=False, type=click.Choice(ALL_KINDS), metavar="[KIND]")
@on_option
@revision_option
@store_option
@json_option
@told_when_refused
def export(
    *,
    kind: str | None,
    on: datetime | None,
    revision: int | None,
    store_path: Path,
    as_json: bool,
) -> None:
    """Print the whole sheet in force, as TOML, or as JSON with --json: import takes it back.

    With a KIND, print its rates as CSV for a spreadsheet: import --kind KIND takes it back. Kinds
    are shop, materials, nozzles, machines, components, channels, profiles and services.
    """
    with opened(store_path) as store:
        pinned = pinned_sheet(store, store_path, revision, on)
    if kind is not None:
        present = [change for change in pinned.in_force.present if change.kind == kind]
        rows = {change.code: plain_value(change) for change in present}
        click.echo(written_json(rows) if as_json else written_rows(kind, rows).encode(), nl=as_json)
    else:
        sheet = plain_sheet(pinned.in_force.sheet)
        click.echo(written_json(sheet) if as_json else tomli_w.dumps(sheet), nl=as_json)


@rates.command("show", short_help="Show what is stored: all, a kind, or one rate.")
@click.argument("kind", required=False, type=click.Choice(ALL_KINDS), metavar="[KIND]")
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
    """Show the stored rates: all, those of a KIND, or the one with a CODE.

    Kinds are shop, materials, nozzles, machines, components, channels, profiles and services.
    """
    with opened(store_path) as store:
        pinned = pinned_sheet(store, store_path, revision, on)
    found = [
        change
        for change in pinned.in_force.present
        if kind in (None, change.kind) and code in (None, change.code)
    ]
    if not found:
        name = "/".join(filter(None, (kind, code)))
        codes = [change.code for change in pinned.in_force.present if change.kind == kind]
        near = meant(code, codes) if code is not None else ""
        raise nothing_kept(store_path, f"nothing is kept under {name}{near}")
    if as_json:
        click.echo(written_json([told_change(change) for change in found]))
    elif code is not None:
        click.echo(f"# {since(found[0])}\n{_as_toml(found[0])}", nl=False)
    else:
        _show_list(pinned, found)


def _show_list(pinned: Pinned, found: list[Change]) -> None:
    console, in_force = screen(), pinned.in_force
    rows = [(change.kind, change.code, _named(change), since(change)) for change in found]
    show_texts(console, ("Kind", "Code", "Name or value", "Known and in force"), rows)
    paragraph(console, f"Revision {in_force.revision} of the rates, on {pinned.on}.", style="dim")
    if in_force.until is not None:
        paragraph(console, f"The next planned change is in force from {in_force.until}.")


def _named(change: Change) -> str:
    """Name a rate as people do; of what is sheet-wide, show the value."""
    value = plain_value(change)
    if isinstance(value, dict):
        return str(value.get("name", ""))
    return ", ".join(map(str, value)) if isinstance(value, list) else compact(value)


def _as_toml(change: Change) -> str:
    value: Any = plain_value(change)
    if change.kind == SHOP:
        return tomli_w.dumps({change.code: value})
    return tomli_w.dumps({change.kind: {change.code: value}})


for command in (import_rates, change, history, changes):
    rates.add_command(command)

"""The rates commands: what is in force, on the screen and as a file."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click
import tomli_w

from gramhour_service.commandline.history import changes, history
from gramhour_service.commandline.importing import import_rates
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.rate_changing import change
from gramhour_service.commandline.rates_found import (
    Found,
    Rate,
    Wanted,
    by_service,
    in_store,
    told_rate,
)
from gramhour_service.commandline.refusals import told_when_refused
from gramhour_service.commandline.screen import paragraph, screen, show_texts
from gramhour_service.commandline.service import service_asked, service_options
from gramhour_service.commandline.store import json_option, opened, store_option, written_json
from gramhour_service.commandline.stored import (
    compact,
    on_option,
    pinned_sheet,
    revision_option,
)
from gramhour_service.sheets.csv_kind import written_rows
from gramhour_service.sheets.rows import ALL_KINDS, SHOP, plain_sheet, plain_value

HEADER = ("Kind", "Code", "Name or value", "Known and in force")


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
@service_options
@told_when_refused
def show(
    *,
    kind: str | None,
    code: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
    **pins: Any,
) -> None:
    """Show the stored rates: all, those of a KIND, or the one with a CODE.

    Kinds are shop, materials, nozzles, machines, components, channels, profiles and services.
    """
    wanted = Wanted(kind, code, **pins)
    service = service_asked(url)
    found = in_store(wanted, store_path) if service is None else by_service(wanted, service, key)
    if as_json:
        click.echo(written_json([told_rate(rate) for rate in found.rates]))
    elif code is not None:
        (rate,) = found.rates
        click.echo(f"# {rate.since}\n{_as_toml(rate)}", nl=False)
    else:
        _show_list(found)


def _show_list(found: Found) -> None:
    console = screen()
    rows = [[rate.kind, rate.code, _named(rate.value), rate.since] for rate in found.rates]
    told = HEADER if any(rate.since for rate in found.rates) else HEADER[:-1]
    show_texts(console, told, [row[: len(told)] for row in rows])
    paragraph(console, f"Revision {found.revision} of the rates, on {found.on}.", style="dim")
    if found.until is not None:
        paragraph(console, f"The next planned change is in force from {found.until}.")


def _named(value: Any) -> str:
    """Name a rate as people do; of what is sheet-wide, show the value."""
    if isinstance(value, dict):
        return str(value.get("name", ""))
    return ", ".join(map(str, value)) if isinstance(value, list) else compact(value)


def _as_toml(rate: Rate) -> str:
    if rate.kind == SHOP:
        return tomli_w.dumps({rate.code: rate.value})
    return tomli_w.dumps({rate.kind: {rate.code: rate.value}})


for command in (import_rates, change, history, changes):
    rates.add_command(command)

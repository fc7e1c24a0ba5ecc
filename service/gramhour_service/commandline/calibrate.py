"""The calibrate command: the pace and the change of layer that fit builds which were timed."""

from pathlib import Path

import click
from rich.table import Table

from gramhour.client import Client
from gramhour.contract.calibration import Calibration
from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_calibration
from gramhour.errors import GramhourError, Refusal
from gramhour_service.commandline.asking import ABOUT_THE_SERVICE
from gramhour_service.commandline.files import Document, read_document
from gramhour_service.commandline.quote import read_one
from gramhour_service.commandline.refusals import (
    NotAnswered,
    PlacedFault,
    placed,
    told_when_refused,
)
from gramhour_service.commandline.screen import paragraph, printable, screen
from gramhour_service.commandline.store import opened, store_option, written_json
from gramhour_service.commandline.stored import pinned_sheet
from gramhour_service.own_parts.calibrated import calibrated
from gramhour_service.resolve.sheet import sound_sheet


@click.command(short_help="Calibrate estimates by builds that you have timed.")
@click.argument("file")
@click.option(
    "--rates", "sheet_file", metavar="SHEET", help="A rate sheet, TOML or JSON, not the stored one."
)
@store_option
@click.option(
    "--url", envvar="GRAMHOUR_URL", metavar="URL", help="Ask a running service; or GRAMHOUR_URL."
)
@click.option(
    "--key", envvar="GRAMHOUR_KEY", metavar="KEY", help="Your key there; better in GRAMHOUR_KEY."
)
@click.option("--json", "as_json", is_flag=True, help="The whole answer as JSON.")
@told_when_refused
def calibrate(
    *,
    file: str,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Calibrate a machine and a profile by the timed builds in FILE (TOML or JSON).

    FILE names a profile, a machine, a nozzle and builds, each with its material, grams, layers and
    minutes. Told are the pace and the change of layer that fit them best. Nothing is saved.
    """
    request = read_one(file)
    if url is not None and sheet_file is None:
        told = _by_service(request, url, key)
    else:
        told = _here(request, _sheet(sheet_file, store_path))
    click.echo(written_json(told)) if as_json else _show(told, file)


def _sheet(sheet_file: str | None, store_path: Path) -> RateSheet:
    """Read the sheet that is named, else that of the store. Raises ``NotAnswered``."""
    if sheet_file is None:
        with opened(store_path) as store:
            return pinned_sheet(store, store_path, None, None).in_force.sheet
    try:
        return sound_sheet(read_document(sheet_file).says)
    except Refused as refused:
        raise placed(refused, sheet_file) from None


def _here(request: Document, sheet: RateSheet) -> Calibration:
    try:
        return calibrated(read_calibration(request.says, sheet), sheet)
    except Refused as refused:
        raise placed(refused, request.file) from None


def _by_service(request: Document, url: str, key: str | None) -> Calibration:
    try:
        with Client(url=url, key=key) as client:
            return client.calibrate(request.says)
    except Refusal as refusal:
        at = url if refusal.type in ABOUT_THE_SERVICE else request.file
        raise placed(Refused(refusal.type, tuple(refusal.faults)), at) from None
    except (GramhourError, ValueError) as error:
        raise NotAnswered("no-answer", [PlacedFault(url, "", str(error))]) from None


def _show(told: Calibration, file: str) -> None:
    table = Table(title=printable(file), box=None, title_justify="left")
    for heading in ("build", "took, min", "by the rates", "calibrated", "remains"):
        table.add_column(heading, justify="left" if heading == "build" else "right")
    for n, build in enumerate(told.builds, start=1):
        figures = (build.actual_min, build.estimated_min, build.calibrated_min, build.residual_min)
        table.add_row(printable(build.name or f"build {n}"), *(f"{each:,.1f}" for each in figures))
    console = screen()
    console.print(table)
    fitted = " and ".join(told.fitted) or "neither"
    paragraph(
        console,
        f"pace = {told.pace}, for the machine; layer_change_s = {told.layer_change_s}, for the "
        f"profile. Fitted: {fitted}. The worst build is still {told.largest_residual_min:+.1f} min "
        "off. Nothing was saved.",
    )

"""The calibrate command: the pace and the change of layer that fit builds which were timed."""

from pathlib import Path

import click
from rich.table import Table

from gramhour.contract.calibration import Calibration
from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_calibration
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.files import Document
from gramhour_service.commandline.meant import BUILDS
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.quote import read_one
from gramhour_service.commandline.refusals import (
    placed,
    told_when_refused,
)
from gramhour_service.commandline.screen import paragraph, screen
from gramhour_service.commandline.service import asked_service, key_option, url_option
from gramhour_service.commandline.store import store_option, written_json
from gramhour_service.commandline.stored import sheet_option, sheet_wanted
from gramhour_service.own_parts.calibrated import calibrated


@click.command(cls=Once, short_help="Calibrate estimates by builds that you have timed.")
@click.argument("file")
@sheet_option
@store_option
@url_option
@key_option
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
    request = read_one(file, BUILDS)
    if url is not None and sheet_file is None:
        with asked_service(url, key, request.file) as client:
            told = client.calibrate(request.says)
    else:
        told = _here(request, sheet_wanted(sheet_file, store_path)[0])
    click.echo(written_json(told)) if as_json else _show(told, file)


def _here(request: Document, sheet: RateSheet) -> Calibration:
    try:
        return calibrated(read_calibration(request.says, sheet), sheet)
    except Refused as refused:
        raise placed(refused, request.file) from None


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

"""The measure command: what a mesh file or a toolpath holds, as a table or as JSON."""

from pathlib import Path
from typing import cast

import click

from gramhour.calls_of_measurements import AboutMesh
from gramhour.contract.problem import Fault, Refused
from gramhour_service.commandline.files import read_bytes
from gramhour_service.commandline.meant import EXPORT, NO_TEXT, OTHER_MESH, SOLID, foreign
from gramhour_service.commandline.measure_mesh import Mesh, measured_mesh, show_mesh
from gramhour_service.commandline.measure_toolpath import (
    Toolpath,
    measured_toolpath,
    show_toolpath,
)
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import NotAnswered, placed, told_when_refused
from gramhour_service.commandline.service import key_option, url_option
from gramhour_service.commandline.store import store_option, written_json
from gramhour_service.http.measurements import media_type_of
from gramhour_service.http.meshes import OF_NAME
from gramhour_service.http.toolpaths import ENDING, GCODE


@click.command(
    cls=Once, short_help="Measure a mesh file or a toolpath: its volume, its filament, its size."
)
@click.argument("file")
@click.option("--profile", metavar="CODE", help="Of a mesh: estimate grams and minutes by it.")
@click.option("--machine", metavar="CODE", help="The machine that prints it.")
@click.option("--nozzle", metavar="CODE", help="Of a mesh: the nozzle that is fitted.")
@click.option(
    "--material", metavar="CODE", help="What is printed; of a toolpath by tool 0:CODE,1:CODE."
)
@click.option("--service", metavar="CODE", help="Of a mesh: have it signed, to quote it; by --url.")
@click.option(
    "--rates", "sheet_file", metavar="SHEET", help="A rate sheet that has them, not the stored one."
)
@store_option
@url_option
@key_option
@click.option("--json", "as_json", is_flag=True, help="The whole answer as JSON.")
@told_when_refused
def measure(
    *,
    file: str,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
    **named: str | None,
) -> None:
    """Measure the mesh or the toolpath in FILE, which is what the ending of its name says.

    A mesh is STL (taken in mm) or 3MF. With a --profile, grams and minutes are estimated, for a
    --machine, a --nozzle and a --material. A toolpath is G-code; its grams and estimated minutes
    need a --machine and a --material. Codes are those of the sheet named with --rates, of a running
    service if its --url is known, else of the store on this machine.
    """
    given = {name: code for name, code in named.items() if code is not None}
    media_type = media_type_of(file)
    if media_type is None:
        raise _not_measured(file)
    if media_type == GCODE:
        _check_toolpath(given)
        toolpath = Toolpath(file, _read(file), given.get("machine"), given.get("material"))
        laid = measured_toolpath(toolpath, sheet_file, store_path, url, key)
        click.echo(written_json(laid)) if as_json else show_toolpath(laid, file)
        return
    _check_mesh(given, url, sheet_file)
    mesh = Mesh(file, _read(file), media_type, cast("AboutMesh", given))
    told = measured_mesh(mesh, sheet_file, store_path, url, key)
    click.echo(written_json(told)) if as_json else show_mesh(told, file)


def _not_measured(file: str) -> NotAnswered:
    """Say what a file is that has no ending of what can be measured."""
    endings = " or ".join((*OF_NAME, ENDING))
    found = foreign(file, _read(file))
    ends = f"its name must end in {endings}"
    told = f"cannot tell what this is: {ends}"
    if found is not None and found is not NO_TEXT:  # a mesh may be no text
        told = f"this is {found.what}, where a mesh or a toolpath is expected: {ends}"
        if found in (OTHER_MESH, SOLID):
            told = f"this is {found.what}: {EXPORT}"
    fault = Fault("", told)
    return placed(Refused("unsupported-media-type", (fault,)), file)


def _check_toolpath(given: dict[str, str]) -> None:
    if beyond := [f"--{name}" for name in ("profile", "nozzle", "service") if name in given]:
        raise click.UsageError(
            f"{' and '.join(beyond)} is for meshes; a toolpath is prepared: leave it away"
        )


def _check_mesh(given: dict[str, str], url: str | None, sheet_file: str | None) -> None:
    if "service" in given and (url is None or sheet_file is not None or len(given) > 1):
        raise click.UsageError(
            "--service has its own profile, and needs a --url: leave others away"
        )
    if "service" not in given and "profile" not in given and (given or sheet_file is not None):
        raise click.UsageError("of a mesh, these need a --profile to estimate by")


def _read(file: str) -> bytes:
    try:
        return read_bytes(file)
    except Refused as refused:
        raise placed(refused, file) from None

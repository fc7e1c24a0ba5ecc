"""The measure command: what a mesh file or a toolpath holds, as a table or as JSON."""

from pathlib import Path

import click
from rich.table import Table
from rich.text import Text

from gramhour.calls import MeshType
from gramhour.client import Client
from gramhour.contract.measurement import Measurement
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour.errors import GramhourError, Refusal
from gramhour_service.commandline.files import read_bytes
from gramhour_service.commandline.measure_toolpath import (
    Toolpath,
    measured_toolpath,
    show_toolpath,
)
from gramhour_service.commandline.refusals import (
    NotAnswered,
    PlacedFault,
    placed,
    told_when_refused,
)
from gramhour_service.commandline.screen import printable, screen
from gramhour_service.commandline.store import store_option, written_json
from gramhour_service.http.measurements import (
    LIMITS,
    OF_NAME,
    measurement_of,
    media_type_of,
)
from gramhour_service.http.refused_files import PROBLEM_OF
from gramhour_service.http.toolpaths import ENDING, GCODE
from gramhour_service.measuring.apart import measure_apart
from gramhour_service.measuring.mesh import Refused as RefusedFile


@click.command(short_help="Measure a mesh file or a toolpath: its volume, its filament, its size.")
@click.argument("file")
@click.option("--machine", metavar="CODE", help="Of a toolpath: the machine that runs it.")
@click.option(
    "--material", metavar="CODE", help="Of a toolpath: what is printed; by tool 0:CODE,1:CODE."
)
@click.option(
    "--rates", "sheet_file", metavar="SHEET", help="A rate sheet that has both, not the stored one."
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
def measure(  # noqa: PLR0913 - one for each option
    *,
    file: str,
    machine: str | None,
    material: str | None,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Measure the mesh or the toolpath in FILE, which is what the ending of its name says.

    A mesh is STL (taken in mm) or 3MF. A toolpath is G-code; its grams and estimated minutes need
    a --machine and a --material, from the sheet named with --rates, from a running service if its
    --url is known, else from the store on this machine.
    """
    media_type = media_type_of(file)
    if media_type is None:
        endings = " or ".join((*OF_NAME, ENDING))
        fault = Fault("", f"cannot tell what this is: its name must end in {endings}")
        raise placed(Refused("unsupported-media-type", (fault,)), file)
    if media_type == GCODE:
        toolpath = Toolpath(file, _read(file), machine, material)
        told: ToolpathMeasurement | Measurement
        told = measured_toolpath(toolpath, sheet_file, store_path, url, key)
    elif machine is not None or material is not None or sheet_file is not None:
        raise click.UsageError("--machine, --material and --rates are for toolpaths")
    elif url is None:
        told = _measured_here(file, _read(file), media_type)
    else:
        told = _measured_there(file, _read(file), media_type, url, key)
    if as_json:
        click.echo(written_json(told))
    elif isinstance(told, Measurement):
        _show(told, file)
    else:
        show_toolpath(told, file)


def _read(file: str) -> bytes:
    try:
        return read_bytes(file)
    except Refused as refused:
        raise placed(refused, file) from None


def _measured_here(file: str, content: bytes, media_type: MeshType) -> Measurement:
    """Measure on this machine. Raises ``NotAnswered``."""
    try:
        return measurement_of(content, media_type, measure_apart(content, media_type, LIMITS))
    except RefusedFile as refused:
        kind = PROBLEM_OF[refused.kind]
        raise placed(Refused(kind, (Fault("", refused.detail),)), file) from None


def _measured_there(
    file: str, content: bytes, media_type: MeshType, url: str, key: str | None
) -> Measurement:
    """Have a running service measure. Raises ``NotAnswered``."""
    try:
        with Client(url=url, key=key) as client:
            return client.measure(content, media_type=media_type)
    except Refusal as refusal:
        raise placed(Refused(refusal.type, tuple(refusal.faults)), file) from None
    except (GramhourError, ValueError) as error:
        raise NotAnswered("no-answer", [PlacedFault(url, "", str(error))]) from None


def _show(measurement: Measurement, file: str) -> None:
    box = measurement.box
    rows = (
        ("volume", _amount(measurement.volume_cm3, "cm³")),
        ("area", _amount(measurement.area_cm2, "cm²")),
        ("box", f"{box.x_mm:g} × {box.y_mm:g} × {box.z_mm:g} mm"),
        ("mean wall", _amount(measurement.mean_wall_mm, "mm, if it is thin-walled")),
        ("bodies", str(measurement.bodies)),
        ("hollows", str(measurement.hollows)),
        ("triangles", f"{measurement.triangles:,}"),
        ("watertight", "yes" if measurement.watertight else "no"),
    )
    table = Table(title=Text(printable(file)), box=None, show_header=False, title_justify="left")
    for name, amount in rows:
        table.add_row(name, amount)
    console = screen()
    console.print(table)
    for warned in measurement.warnings:
        console.print(Text(f"{warned.warning}: {warned.says}"))


def _amount(amount: float | None, unit: str) -> str:
    return "none" if amount is None else f"{amount:,.3f} {unit}"

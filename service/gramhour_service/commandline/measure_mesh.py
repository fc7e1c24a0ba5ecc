"""Measuring a mesh for the measure command: here, by a sheet or the store, or by a service."""

from functools import partial
from pathlib import Path
from typing import NamedTuple

from rich.text import Text

from gramhour.calls_of_measurements import AboutMesh, MeshType
from gramhour.contract.measurement import Estimate, Measurement
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.commandline.measure_toolpath import placed_at_options
from gramhour_service.commandline.refusals import placed
from gramhour_service.commandline.screen import paragraph, screen, show_measured
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.stored import sheet_wanted
from gramhour_service.http.meshes import LIMITS, MeshAsked, measurement_of, profiles_of
from gramhour_service.http.refused_files import PROBLEM_OF
from gramhour_service.measuring.apart import measure_apart
from gramhour_service.measuring.bounds import Refused as RefusedFile
from gramhour_service.own_parts.estimates import Wish, check_codes


class Mesh(NamedTuple):
    """A mesh's file, and what it is for, as the options say it."""

    file: str
    content: bytes
    media_type: MeshType
    about: AboutMesh


def measured_mesh(
    mesh: Mesh, sheet_file: str | None, store_path: Path, url: str | None, key: str | None
) -> Measurement:
    """Measure a mesh; by a profile it is that of a sheet, else of a service, else of the store.

    Raises ``NotAnswered``.
    """
    if url is not None and sheet_file is None:
        return _by_service(mesh, url, key)
    if "profile" not in mesh.about:
        return _measured(mesh, MeshAsked())
    sheet, name = sheet_wanted(sheet_file, store_path)
    try:
        return _measured(mesh, MeshAsked(_wish(mesh.about, sheet), sheet))
    except Refused as refused:
        raise placed_at_options(refused, mesh.file, name) from None


def _wish(about: AboutMesh, sheet: RateSheet) -> Wish:
    """Read what to estimate. Raises ``Refused``."""
    check_codes({name: str(code) for name, code in about.items()}, sheet)
    material = about.get("material")
    materials = () if material is None else (material,)
    return Wish(about["profile"], about.get("machine"), about.get("nozzle"), materials)


def _measured(mesh: Mesh, asked: MeshAsked) -> Measurement:
    try:
        found = measure_apart(mesh.content, mesh.media_type, LIMITS, profiles_of(asked))
    except RefusedFile as error:
        fault = Fault("", error.detail)
        raise placed(Refused(PROBLEM_OF[error.kind], (fault,)), mesh.file) from None
    return measurement_of(mesh.content, mesh.media_type, found, asked)


def _by_service(mesh: Mesh, url: str, key: str | None) -> Measurement:
    """Have a running service measure. Raises ``NotAnswered``."""
    with asked_service(url, key, mesh.file, partial(placed_at_options, sheet=url)) as client:
        return client.measure(mesh.content, media_type=mesh.media_type, **mesh.about)


def show_mesh(told: Measurement, file: str) -> None:
    """Show what a mesh holds, and takes, as a table."""
    box = told.box
    rows = [
        ("volume", _amount(told.volume_cm3, "cm³")),
        ("area", _amount(told.area_cm2, "cm²")),
        ("box", f"{box.x_mm:g} × {box.y_mm:g} × {box.z_mm:g} mm"),
        ("mean wall", _amount(told.mean_wall_mm, "mm, if it is thin-walled")),
        ("bodies", str(told.bodies)),
        ("hollows", str(told.hollows)),
        ("triangles", f"{told.triangles:,}"),
        ("watertight", "yes" if told.watertight else "no"),
    ]
    for each in told.estimates or ():
        rows += _estimated(each)
    console = screen()
    show_measured(console, file, rows)
    for warned in told.warnings:
        console.print(Text(f"{warned.warning}: {warned.says}"))
    if told.estimates:
        profile = told.estimates[0].profile
        paragraph(
            console,
            f"Grams and minutes are estimated by the profile {profile}, layer by layer: compare "
            "them with a plate that was prepared before you promise anything.",
        )
    if told.measurement:
        console.print(Text("To quote it, send this measurement:"))
        console.print(Text(told.measurement), soft_wrap=True)


def _estimated(told: Estimate) -> list[tuple[str, str]]:
    """Write an estimate as rows; what it says nothing of has none."""
    of = f"estimated, {told.material}" if told.material else "estimated"
    rows = [
        (
            f"{of}: laid down",
            f"{told.volume_cm3:,.3f} cm³, support {told.support_cm3:,.3f} cm³, "
            f"{told.layers:,} layers",
        )
    ]
    if isinstance(told.piece_g, float):
        rows.append((f"{of}: a piece", f"{told.piece_g:,.2f} g"))
    if isinstance(told.print_min, float) and isinstance(told.build_g, float):
        pieces = told.pieces_per_build
        how_many = "1 piece" if pieces == 1 else f"{pieces} pieces"
        rows.append(
            (
                f"{of}: a build",
                f"{how_many} on {told.machine}: {told.build_g:,.2f} g, {told.print_min:,.1f} min",
            )
        )
    return rows


def _amount(amount: float | None, unit: str) -> str:
    return "none" if amount is None else f"{amount:,.3f} {unit}"

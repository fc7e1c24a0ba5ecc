"""Measuring a toolpath for the measure command: by a sheet, by the store, or by a service."""

from datetime import date
from functools import partial
from pathlib import Path
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, placed
from gramhour_service.commandline.screen import paragraph, screen, show_measured
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.store import opened
from gramhour_service.commandline.stored import STORED, pinned_sheet, sheet_of_file
from gramhour_service.http.refused_files import PROBLEM_OF
from gramhour_service.http.toolpaths import LIMITS, by_lines, toolpath_measurement_of
from gramhour_service.measuring.bounds import Refused as RefusedFile
from gramhour_service.measuring.toolpath_apart import read_toolpath_apart
from gramhour_service.resolve.toolpath import setup_of
from gramhour_service.toolpath.faults import ToolpathRefused


class Toolpath(NamedTuple):
    """A toolpath's file, and what it is to be measured for, as the options say it."""

    file: str
    content: bytes
    machine: str | None
    material: str | None


def measured_toolpath(
    toolpath: Toolpath, sheet_file: str | None, store_path: Path, url: str | None, key: str | None
) -> ToolpathMeasurement:
    """Measure by the sheet that is named, else by a service, else by the store.

    Raises ``NotAnswered``.
    """
    if sheet_file is not None:
        return _by_sheet(toolpath, sheet_file)
    return _by_store(toolpath, store_path) if url is None else _by_service(toolpath, url, key)


def _by_sheet(toolpath: Toolpath, sheet_file: str) -> ToolpathMeasurement:
    """Measure here, for a machine and materials of a sheet's file. Raises ``NotAnswered``."""
    return _measured(toolpath, sheet_of_file(sheet_file), sheet_file, UNSET, UNSET)


def _by_store(toolpath: Toolpath, path: Path) -> ToolpathMeasurement:
    """Measure here, for a machine and materials of the store. Raises ``NotAnswered``."""
    with opened(path) as store:
        found = pinned_sheet(store, path, None, None)
    in_force = found.in_force
    return _measured(toolpath, in_force.sheet, STORED, in_force.revision, found.on)


def _by_service(toolpath: Toolpath, url: str, key: str | None) -> ToolpathMeasurement:
    """Have a running service measure. Raises ``NotAnswered``."""
    missing = [name for name in ("machine", "material") if getattr(toolpath, name) is None]
    if missing:
        faults = (PlacedFault(toolpath.file, f"--{name}", "say which one") for name in missing)
        raise NotAnswered("invalid-request", faults)
    assert toolpath.machine is not None
    assert toolpath.material is not None
    with asked_service(url, key, toolpath.file, partial(placed_at_options, sheet=url)) as client:
        return client.measure_toolpath(
            toolpath.content, machine=toolpath.machine, material=toolpath.material
        )


def _measured(
    toolpath: Toolpath,
    sheet: RateSheet,
    sheet_name: str,
    revision: int | UnsetType,
    on: date | UnsetType,
) -> ToolpathMeasurement:
    try:
        setup = setup_of(toolpath.machine, toolpath.material, sheet)
    except Refused as refused:
        raise placed_at_options(refused, toolpath.file, sheet_name) from None
    try:
        found = read_toolpath_apart(toolpath.content, setup.motion, setup.filaments, LIMITS)
    except ToolpathRefused as error:
        raise placed(by_lines(error), toolpath.file) from None
    except RefusedFile as error:
        fault = Fault("", error.detail)
        raise placed(Refused(PROBLEM_OF[error.kind], (fault,)), toolpath.file) from None
    return toolpath_measurement_of(toolpath.content, setup, found, revision, on)


def placed_at_options(refused: Refused, file: str, sheet: str) -> NotAnswered:
    """Place faults at the option whose parameter has them; the rates stand in the sheet.

    What a program sends as ``machine=large`` a person types as ``--machine large``.
    """
    faults = [
        PlacedFault(file, "", fault.detail, None if fault.line is UNSET else fault.line)
        if fault.parameter is UNSET
        else PlacedFault(
            sheet,
            f"--{fault.parameter}",
            fault.detail.replace(f"{fault.parameter}=", f"--{fault.parameter} "),
        )
        for fault in refused.faults
    ]
    return NotAnswered(refused.type, faults)


def show_toolpath(told: ToolpathMeasurement, file: str) -> None:
    """Show what a toolpath makes a machine do, as a table."""
    low, high = told.box.low, told.box.high
    sides = (high.x_mm - low.x_mm, high.y_mm - low.y_mm, high.z_mm - low.z_mm)
    rows = [
        *(
            (
                f"tool {tool.tool}, {tool.material}",
                f"{tool.mass_g:,.2f} g, {tool.filament_mm / 1000:,.3f} m, "
                f"{tool.volume_mm3 / 1000:,.3f} cm³",
            )
            for tool in told.tools
        ),
        ("minutes, estimated", f"{told.print_min:,.1f}, of them laying {told.laying_min:,.1f}"),
        ("layers", f"{told.layers:,}"),
        ("beads reach", " × ".join(f"{side:.6g}" for side in sides) + " mm"),
        ("flow", f"{told.mean_flow_mm3_s:.2f} mm³/s, at most {told.peak_flow_mm3_s:.2f}"),
        ("lines, moves", f"{told.lines:,}, {told.moves:,}"),
    ]
    console = screen()
    show_measured(console, file, rows)
    for sentence in _remarks(told):
        paragraph(console, sentence)


def _remarks(told: ToolpathMeasurement) -> list[str]:
    remarks = [f"{told.basis[0].upper()}{told.basis[1:]}."]
    if told.climbing_moves:
        remarks.append(f"{told.climbing_moves:,} moves lay while they climb: they are no layers.")
    if told.unfed_moves:
        remarks.append(f"{told.unfed_moves:,} moves come before any feed, at the machine's most.")
    if told.not_read:
        codes = ", ".join(f"{each.code} ({each.times:,})" for each in told.not_read)
        remarks.append(f"Not read: {codes}.")
    return remarks

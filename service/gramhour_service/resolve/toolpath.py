"""Looks up what a toolpath is measured with: a machine's motion, and the filament of each tool."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.machine import Machine
from gramhour.contract.material import Material
from gramhour.contract.noting import nearest, shown
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.toolpath.measured import Filament
from gramhour_service.toolpath.motion import Motion
from gramhour_service.toolpath.tools import MOST_TOOL

FIRST_TOOL = "0"
WAY = "material=asa-green, or by tool material=0:asa-green,1:petg-clear"
TOOL = re.compile(r"0|[1-9][0-9]?", re.ASCII)


class Setup(NamedTuple):
    """What a toolpath is measured with; ``materials`` are codes by tool."""

    machine: str
    materials: Mapping[int, str]
    motion: Motion
    filaments: Mapping[int, Filament]


def setup_of(machine: str | None, material: str | None, sheet: RateSheet) -> Setup:
    """Look up a machine, and materials by tool, as a caller writes them.

    Raises ``Refused`` with every fault found, each at its parameter.
    """
    faults: list[Fault] = []
    motion = _motion(machine, sheet, faults)
    materials = _by_tool(material, faults)
    filaments = {
        tool: filament
        for tool, code in materials.items()
        if (filament := _filament(code, sheet, faults)) is not None
    }
    if faults or machine is None or motion is None:
        raise Refused("invalid-request", tuple(dict.fromkeys(faults)))
    return Setup(machine, materials, motion, filaments)


def _motion(code: str | None, sheet: RateSheet, faults: list[Fault]) -> Motion | None:
    if code is None:
        _refuse(faults, "machine", "say which machine runs the toolpath, such as machine=large")
        return None
    machines: Mapping[str, Machine] = {} if sheet.machines is UNSET else sheet.machines
    if code not in machines:
        near = nearest(code, machines)
        _refuse(faults, "machine", f"the rates have no machine {shown(code)}{near}")
        return None
    motion = machines[code].motion
    if isinstance(motion, UnsetType):
        detail = (
            f"the rates do not say how '{code}' moves: give the machine a 'motion', with its "
            "speeds and accelerations"
        )
        _refuse(faults, "machine", detail)
        return None
    names = motion.__struct_fields__
    return Motion(**{name: float(getattr(motion, name)) for name in names})


def _by_tool(text: str | None, faults: list[Fault]) -> dict[int, str]:
    """Read which material each tool is fed with; without a tool's number it is the first one."""
    found: dict[int, str] = {}
    if text is None:
        _refuse(faults, "material", f"say what is printed: {WAY}")
        return found
    entries = text.split(",")
    if len(entries) > MOST_TOOL + 1:
        detail = f"names {len(entries):,} materials; there are {MOST_TOOL + 1} tools at most"
        _refuse(faults, "material", detail)
        return found
    for entry in entries:
        tool, colon, code = entry.rpartition(":")
        tool, code = tool.strip() if colon else FIRST_TOOL, code.strip()
        if not TOOL.fullmatch(tool) or not code:
            detail = f"{shown(entry)} names no tool from 0 to {MOST_TOOL} and its material: {WAY}"
            _refuse(faults, "material", detail)
        elif int(tool) in found:
            _refuse(faults, "material", f"tool {tool} has two materials; name one")
        else:
            found[int(tool)] = code
    return found


def _filament(code: str, sheet: RateSheet, faults: list[Fault]) -> Filament | None:
    materials: Mapping[str, Material] = {} if sheet.materials is UNSET else sheet.materials
    if code not in materials:
        near = nearest(code, materials)
        _refuse(faults, "material", f"the rates have no material {shown(code)}{near}")
        return None
    diameter, density = materials[code].diameter_mm, materials[code].density_g_cm3
    if isinstance(diameter, Decimal) and isinstance(density, Decimal):
        return Filament(float(diameter), float(density))
    given = {"diameter_mm": diameter, "density_g_cm3": density}
    missing = " and ".join(name for name, value in given.items() if value is UNSET)
    _refuse(faults, "material", f"the rates say no {missing} of '{code}', which grams need; add it")
    return None


def _refuse(faults: list[Fault], parameter: str, detail: str) -> None:
    faults.append(Fault(UNSET, detail, parameter=parameter))

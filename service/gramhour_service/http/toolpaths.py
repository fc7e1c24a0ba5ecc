"""POST /v1/measurements of a toolpath: for a machine and materials of the rates.

A toolpath may claim any speed and any amount, so a price key may not have one measured: only who
sees costs.
"""

import asyncio
import hashlib
from collections.abc import Awaitable, Callable
from datetime import date

from msgspec import UNSET, UnsetType

from gramhour.calls_of_measurements import ToolpathType
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.toolpath_measurement import (
    CodeNotRead,
    Corner,
    FedTool,
    LaidBox,
    ToolpathMeasurement,
)
from gramhour_service.http.asking import lacking
from gramhour_service.http.operation import CODE_TEXT, RATES_ON, RATES_REVISION, Parameter
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.refused_files import refused_file
from gramhour_service.http.settings import MOST_FILE_BYTES
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import Asked
from gramhour_service.measuring.bounds import Refused as RefusedFile
from gramhour_service.measuring.toolpath_apart import ToolpathLimits, read_toolpath_apart
from gramhour_service.resolve.toolpath import Setup, setup_of
from gramhour_service.sheets.asked import no_such_sheet
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned
from gramhour_service.toolpath.faults import ToolpathRefused
from gramhour_service.toolpath.measured import Point, Toolpath

GCODE: ToolpathType = "text/x.gcode"
ENDING = ".gcode"
LIMITS = ToolpathLimits(file_bytes=MOST_FILE_BYTES)
DECIMALS = 3
MACHINE = Parameter(
    "machine",
    "of a toolpath: the machine that runs it, one that has its `motion` in the rates; of a mesh "
    "beside `profile`: how many pieces a build holds and how long it takes",
    CODE_TEXT,
)
MATERIAL = Parameter(
    "material",
    "of a toolpath: what tool 0 is fed with, or by tool `0:asa-green,1:petg-clear`; of a mesh "
    "beside `profile`: what it weighs",
    {"type": "string"},
)
PARAMETERS = (MACHINE, MATERIAL, RATES_REVISION, RATES_ON)
NAMES = tuple(parameter.name for parameter in PARAMETERS)


async def measured_toolpath(
    request: Asked, parameters: Parameters, take_in: Callable[[], Awaitable[bytes | bytearray]]
) -> ToolpathMeasurement:
    """Measure a toolpath; the file is taken in when all else is known to be right.

    Raises ``Refused``, with the lines that are at fault.
    """
    if not request.state.asker.sees_costs:
        raise lacking(request.state.asker, "measuring a toolpath needs a key with scope cost")
    for name in ("service", "profile", "nozzle"):
        if name in parameters:
            parameters.refuse(name, "is for meshes; a toolpath has been prepared: leave it away")
    found, setup = _asked(request.app.state.shop, parameters)
    content = await take_in()
    try:
        toolpath = await asyncio.to_thread(
            read_toolpath_apart, content, setup.motion, setup.filaments, LIMITS
        )
    except ToolpathRefused as error:
        raise by_lines(error) from error
    except RefusedFile as error:
        raise refused_file(error) from error
    return await asyncio.to_thread(
        toolpath_measurement_of, content, setup, toolpath, found.in_force.revision, found.on
    )


def _asked(shop: Shop, parameters: Parameters) -> tuple[Pinned, Setup]:
    """Find the rates, and in them the machine and the materials. Raises ``Refused``."""
    found = sheet_named(shop, parameters)
    if found is None:
        parameters.check()
        raise refused("no-rates", "no rates are in force that say how a machine moves; import some")
    sheet = found.in_force.sheet
    try:
        setup = setup_of(parameters.text("machine"), parameters.text("material"), sheet)
    except Refused as error:
        raise parameters.with_faults_of(error) from None
    parameters.check()
    return found, setup


def sheet_named(shop: Shop, parameters: Parameters) -> Pinned | None:
    """Find the sheet that is named; where there is none such, today's shows the other faults."""
    revision, on = parameters.whole("rates_revision"), parameters.day("rates_on")
    try:
        return shop.pinned(revision, on)
    except NoSuchRevision as error:
        parameters.refuse("rates_revision", no_such_sheet(error))
    except NothingInForce as error:
        if revision is not None or on is not None:
            name = "rates_revision" if on is None else "rates_on"
            parameters.refuse(name, no_such_sheet(error))
    return shop.pinned_today()


def by_lines(error: ToolpathRefused) -> Refused:
    """Tell the lines of a toolpath that are at fault."""
    faults = tuple(Fault(UNSET, fault.detail, line=fault.line) for fault in error.faults)
    return Refused("cannot-be-measured", faults)


def toolpath_measurement_of(
    content: bytes | bytearray,
    setup: Setup,
    toolpath: Toolpath,
    revision: int | UnsetType,
    on: date | UnsetType,
) -> ToolpathMeasurement:
    """Tell what was read of a toolpath as the contract's answer."""
    return ToolpathMeasurement(
        media_type=GCODE,
        digest=hashlib.sha256(content).hexdigest(),
        basis=(
            f"minutes are estimated by the motion of machine '{setup.machine}' in the rates, "
            "without warm-up and homing; grams by the diameter and density of the materials there"
        ),
        machine=setup.machine,
        rates_revision=revision,
        rates_on=on,
        tools=_tools(setup, toolpath),
        print_min=_rounded(toolpath.minutes),
        laying_min=_rounded(toolpath.laying_minutes),
        layers=toolpath.layers,
        box=LaidBox(low=_corner(toolpath.box.low), high=_corner(toolpath.box.high)),
        mean_flow_mm3_s=_rounded(toolpath.mean_flow_mm3_s),
        peak_flow_mm3_s=_rounded(toolpath.peak_flow_mm3_s),
        lines=toolpath.lines,
        moves=toolpath.moves,
        climbing_moves=toolpath.climbing_moves,
        unfed_moves=toolpath.unfed_moves,
        not_read=[CodeNotRead(code=each.code, times=each.times) for each in toolpath.not_read],
    )


def _tools(setup: Setup, toolpath: Toolpath) -> list[FedTool]:
    return [
        FedTool(
            tool=fed.tool,
            material=setup.materials[fed.tool],
            filament_mm=_rounded(fed.filament_mm),
            volume_mm3=_rounded(fed.volume_mm3),
            mass_g=_rounded(fed.grams),
        )
        for fed in toolpath.fed
    ]


def _corner(point: Point) -> Corner:
    x, y, z = (_rounded(each) for each in point)
    return Corner(x_mm=x, y_mm=y, z_mm=z)


def _rounded(amount: float) -> float:
    """Round to a thousandth; minus zero is zero."""
    return round(amount, DECIMALS) + 0.0

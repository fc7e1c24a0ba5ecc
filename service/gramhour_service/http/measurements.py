"""POST /v1/measurements: a mesh file or a toolpath, measured in a process of its own."""

import asyncio
import hashlib
from collections.abc import Awaitable, Callable
from pathlib import PurePath

import msgspec
from litestar import Response
from litestar.datastructures import UploadFile

from gramhour.calls import MeshType, ToolpathType
from gramhour.contract.measurement import BoxSize, Measurement, Warned
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.refused_files import refused_file
from gramhour_service.http.settings import MOST_FILE_BYTES
from gramhour_service.http.toolpaths import ENDING, GCODE, NAMES, PARAMETERS, measured_toolpath
from gramhour_service.http.wire import JSON, Asked, answered, media_type_sent, media_type_wanted
from gramhour_service.measuring.apart import MeasuredApart, measure_apart
from gramhour_service.measuring.measurement import READERS
from gramhour_service.measuring.mesh import Limits, Refused

ENCODER = msgspec.json.Encoder()
LIMITS = Limits(file_bytes=MOST_FILE_BYTES)
MULTIPART = "multipart/form-data"
UNTOLD = ("application/octet-stream", "")
"""What browsers say of a file whose kind they do not know; its name says it then."""

OF_NAME: dict[str, MeshType] = {".stl": "model/stl", ".3mf": "model/3mf"}
UNDERSTOOD = (*READERS, GCODE)
TakeIn = Callable[[], Awaitable[bytes]]
BINARY = {"type": "string", "format": "binary"}
FORM = {"type": "object", "properties": {"file": BINARY}, "required": ["file"]}


@serves(
    "POST",
    "/v1/measurements",
    Operation(
        summary="Measure a mesh file or a toolpath",
        says=(
            "Volume, area, bounding box, bodies and what a person should look at, of an STL or 3MF "
            "file: as the body with its media type, or as the part `file` of a form. STL has no "
            "unit and is taken in mm. Of a toolpath (G-code) the filament by tool, layers, flow "
            "and estimated minutes, for a `machine` and its `material`; that needs scope `cost`, "
            "as a toolpath may claim any speed."
        ),
        scope="price",
        parameters=PARAMETERS,
        takes={**dict.fromkeys(UNDERSTOOD, BINARY), MULTIPART: FORM},
        gives={JSON: Measurement | ToolpathMeasurement},
        refusals=("cannot-be-measured", "no-rates"),
        most_body_bytes=MOST_FILE_BYTES,
    ),
)
async def measurements(request: Asked) -> Response[bytes]:
    """Answer one file; others are answered meanwhile."""
    parameters = Parameters(request, NAMES)
    media_type = media_type_wanted(request, (JSON,))
    request.app.state.shop.count(request.state.asker)
    places: asyncio.Semaphore = request.app.state.measuring
    async with places:  # before the body is taken in, so that waiting files take no memory
        kind, take_in = await _file_sent(request)
        if kind == GCODE:
            toolpath = await measured_toolpath(request, parameters, take_in)
            return answered(request, ENCODER.encode(toolpath), media_type, costs=True)
        most = request.app.state.shop.settings.mesh_triangles
        measurement = await _measured_mesh(parameters, kind, take_in, most)
    return answered(request, ENCODER.encode(measurement), media_type, costs=False)


async def _measured_mesh(
    parameters: Parameters, kind: str, take_in: TakeIn, most: int
) -> Measurement:
    """Measure a mesh, which is the same for every machine. Raises ``Refused``."""
    for name in NAMES:
        if name in parameters:
            parameters.refuse(name, "is for toolpaths; a mesh is measured as it is: leave it away")
    parameters.check()
    content = await take_in()
    limits = LIMITS._replace(triangles=most)
    try:
        found = await asyncio.to_thread(measure_apart, content, kind, limits)
    except Refused as error:
        raise refused_file(error) from error
    return measurement_of(content, kind, found)


async def _file_sent(request: Asked) -> tuple[str, TakeIn]:
    """Say a file's media type, and how to take it in. Raises ``Refused``."""
    sent = media_type_sent(request, (*UNDERSTOOD, MULTIPART))
    if sent != MULTIPART:
        return sent, request.body
    file = (await request.form()).get("file")
    if not isinstance(file, UploadFile):
        raise refused("malformed-document", "the form has no file in its part 'file'")
    kind = file.content_type.split(";")[0].strip().lower()
    if kind in UNTOLD:
        kind = media_type_of(file.filename) or kind
    if kind not in UNDERSTOOD:
        types = " or ".join(UNDERSTOOD)
        raise refused("cannot-be-measured", f"the part 'file' must have the Content-Type {types}")
    return kind, file.read


def media_type_of(name: str) -> MeshType | ToolpathType | None:
    """Say what a file is by its name's ending, if that tells."""
    ending = PurePath(name).suffix.lower()
    return GCODE if ending == ENDING else OF_NAME.get(ending)


def measurement_of(content: bytes, media_type: str, found: MeasuredApart) -> Measurement:
    """Tell a measurement as the contract's answer: what signs it one day signs what this gives."""
    measured = found.measured
    wall = measured.mean_wall_mm
    return Measurement(
        media_type=media_type,
        digest=hashlib.sha256(content).hexdigest(),
        volume_cm3=None if measured.volume_mm3 is None else float(measured.volume_mm3.scaleb(-3)),
        area_cm2=float(measured.area_mm2.scaleb(-2)),
        box=BoxSize(**{f"{axis}_mm": float(side) for axis, side in measured.box._asdict().items()}),
        triangles=measured.triangles,
        bodies=measured.bodies,
        hollows=measured.hollows,
        watertight=measured.watertight,
        mean_wall_mm=None if wall is None else float(wall),
        warnings=[Warned(warning=each.word, says=each.says) for each in measured.warnings],
    )

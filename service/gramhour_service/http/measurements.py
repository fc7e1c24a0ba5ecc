"""POST /v1/measurements: a mesh file or a toolpath, measured in a process of its own."""

import asyncio
from collections.abc import Awaitable, Callable
from functools import partial
from pathlib import PurePath

import msgspec
from litestar import Response
from litestar.datastructures import UploadFile
from msgspec import UNSET

from gramhour.calls_of_measurements import MeshType, ToolpathType
from gramhour.contract.measurement import Measurement
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour_service.http.meshes import OF_MESHES, OF_NAME, measured_mesh
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.settings import MOST_FILE_BYTES
from gramhour_service.http.toolpaths import ENDING, GCODE, PARAMETERS, measured_toolpath
from gramhour_service.http.wire import (
    JSON,
    Asked,
    answered,
    file_sent,
    media_type_sent,
    media_type_wanted,
    parts_sent,
)
from gramhour_service.measuring.bounds import MESHES

ENCODER = msgspec.json.Encoder()
MULTIPART = "multipart/form-data"
UNTOLD = ("application/octet-stream", "")
"""What browsers say of a file whose kind they do not know; its name says it then."""
UNDERSTOOD = (*MESHES, GCODE)
TakeIn = Callable[[], Awaitable[bytes | bytearray]]
BINARY = {"type": "string", "format": "binary"}
PARAMETERS_OF_BOTH = (*OF_MESHES, *PARAMETERS)
NAMES = tuple(parameter.name for parameter in PARAMETERS_OF_BOTH)
FORM = {"type": "object", "properties": {"file": BINARY}, "required": ["file"]}


@serves(
    "POST",
    "/v1/measurements",
    Operation(
        summary="Measure a mesh file or a toolpath",
        says=(
            "Volume, area, bounding box, bodies and what a person should look at, of an STL or 3MF "
            "file: as the body with its media type, or as the part `file` of a form. STL has no "
            "unit and is taken in mm. With a `service` the answer is signed, so that it can be "
            "quoted by that service. With a `profile`, and a machine, a nozzle and a material if "
            "named, grams and minutes are estimated; that needs scope `cost`. Of a toolpath "
            "(G-code) the filament by tool, layers, flow and estimated minutes, for a `machine` "
            "and its `material`; that needs scope `cost`, as a toolpath may claim any speed."
        ),
        scope="price",
        parameters=PARAMETERS_OF_BOTH,
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
        measurement = await measured_mesh(request, parameters, kind, take_in)
    costs = measurement.estimates is not UNSET
    return answered(request, ENCODER.encode(measurement), media_type, costs=costs)


async def _file_sent(request: Asked) -> tuple[str, TakeIn]:
    """Say a file's media type, and how to take it in. Raises ``Refused``."""
    sent = media_type_sent(request, (*UNDERSTOOD, MULTIPART))
    if sent != MULTIPART:
        return sent, partial(file_sent, request)
    file = (await parts_sent(request)).get("file")
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

"""POST /v1/measurements: a mesh file, measured in a process of its own."""

import asyncio
import hashlib
from pathlib import PurePath

import msgspec
from litestar import Response
from litestar.datastructures import UploadFile

from gramhour.calls import MeshType
from gramhour.contract.measurement import BoxSize, Measurement, Warned
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.settings import MOST_FILE_BYTES
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
BINARY = {"type": "string", "format": "binary"}
FORM = {"type": "object", "properties": {"file": BINARY}, "required": ["file"]}

PROBLEM_OF = {
    "unreadable": "cannot-be-measured",
    "takes-too-long": "cannot-be-measured",
    "too-large": "body-too-large",
    "other-media-type": "unsupported-media-type",
}


@serves(
    "POST",
    "/v1/measurements",
    Operation(
        summary="Measure a mesh file",
        says=(
            "Volume, area, bounding box, bodies and what a person should look at, of an STL or 3MF "
            "file: as the body with its media type, or as the part `file` of a form. STL has no "
            "unit and is taken in mm."
        ),
        scope="price",
        takes={**dict.fromkeys(READERS, BINARY), MULTIPART: FORM},
        gives={JSON: Measurement},
        refusals=("cannot-be-measured",),
        most_body_bytes=MOST_FILE_BYTES,
    ),
)
async def measurements(request: Asked) -> Response[bytes]:
    """Answer one file; others are answered meanwhile."""
    shop, asker = request.app.state.shop, request.state.asker
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    shop.count(asker)
    places: asyncio.Semaphore = request.app.state.measuring
    async with places:  # before the body is taken in, so that waiting files take no memory
        content, kind = await _file_sent(request)
        try:
            found = await asyncio.to_thread(measure_apart, content, kind, LIMITS)
        except Refused as refusal:
            raise refused(PROBLEM_OF[refusal.kind], refusal.detail) from refusal
    body = ENCODER.encode(measurement_of(content, kind, found))
    return answered(request, body, media_type, costs=False)


async def _file_sent(request: Asked) -> tuple[bytes, str]:
    """Take in the file and its media type. Raises ``Refused``."""
    sent = media_type_sent(request, (*READERS, MULTIPART))
    if sent != MULTIPART:
        return await request.body(), sent
    file = (await request.form()).get("file")
    if not isinstance(file, UploadFile):
        raise refused("malformed-document", "the form has no file in its part 'file'")
    kind = file.content_type.split(";")[0].strip().lower()
    if kind in UNTOLD:
        kind = OF_NAME.get(PurePath(file.filename).suffix.lower(), kind)
    if kind not in READERS:
        types = " or ".join(READERS)
        raise refused("cannot-be-measured", f"the part 'file' must have the Content-Type {types}")
    return await file.read(), kind


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

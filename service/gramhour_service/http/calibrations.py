"""POST /v1/calibrations: from timed builds to a machine's pace and a profile's change of layer."""

import msgspec
from litestar import Response

from gramhour.contract.calibration import Calibration, CalibrationRequest
from gramhour.contract.reading import read_calibration
from gramhour_service.http.examples import TIMED_BUILDS
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.quoting import sheets_for
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, TOML, Asked, answered, document_sent, media_type_wanted
from gramhour_service.own_parts.calibrated import calibrated
from gramhour_service.sheets.in_force import NothingInForce

ENCODER = msgspec.json.Encoder()


@serves(
    "POST",
    "/v1/calibrations",
    Operation(
        summary="Calibrate estimates by builds that were timed",
        says=(
            "From the grams (or volume), layers and minutes of your own builds, the machine's "
            "`pace` and the profile's `layer_change_s` that fit them best, by least squares, with "
            "what remains of each build. Nothing is saved: put them into the rates if you like "
            "them."
        ),
        scope="cost",
        takes=dict.fromkeys((JSON, TOML), CalibrationRequest),
        gives={JSON: Calibration},
        refusals=("no-rates",),
        examples={"three builds": TIMED_BUILDS},
    ),
)
async def calibrations(request: Asked) -> Response[bytes]:
    """Answer a calibration."""
    shop: Shop = request.app.state.shop
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    sent = await document_sent(request)
    try:
        found = sheets_for(shop, request.state.asker)(None, None)
    except NothingInForce:
        found = None
    asked = read_calibration(sent, None if found is None else found.in_force.sheet)
    assert found is not None, "the reader asks for rates"
    told = calibrated(asked, found.in_force.sheet)
    return answered(request, ENCODER.encode(told), media_type, costs=True)

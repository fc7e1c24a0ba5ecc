"""GET /health: whether the service can answer."""

import msgspec
from litestar import Response

from gramhour.contract.health import Health
from gramhour_service.calculation.rules import VERSION
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted


@serves(
    "GET",
    "/health",
    Operation(
        summary="Readiness",
        says="Answers 200 when quotes can be asked, 503 when the store cannot be read.",
        scope=None,
        gives={JSON: Health},
        refusals=("store-unavailable", "store-busy"),
    ),
)
async def health(request: Asked) -> Response[bytes]:
    """Answer whether the service is ready."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    found = request.app.state.shop.pinned_today()
    told = Health(status="ready", rules=VERSION, rates="none" if found is None else "stored")
    return answered(request, msgspec.json.encode(told), media_type, costs=True)

"""GET /v1/services: what the shop makes of customers' own parts, for whoever may have one made."""

import msgspec
from litestar import Response
from msgspec import UNSET

from gramhour.contract.services import OpenServices
from gramhour_service.http.asking import Asker
from gramhour_service.http.entries import CURSOR, LIMIT, page_asked
from gramhour_service.http.measured import caller_of
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.own_parts.told import told_services

ENCODER = msgspec.json.Encoder()


@serves(
    "GET",
    "/v1/services",
    Operation(
        summary="What the shop makes of customers' own parts",
        says=(
            "The services of today's rates that are open to the key (those of its channels) or, "
            "without one, to anybody: the `service` and its `material`s to measure and to quote "
            "by, and how large a part may be. No cost, no machine."
        ),
        scope="price",
        parameters=(LIMIT, CURSOR),
        gives={JSON: OpenServices},
        refusals=("no-rates",),
        is_conditional=True,
    ),
)
async def services(request: Asked) -> Response[bytes]:
    """List the services that are open to who asks."""
    shop: Shop = request.app.state.shop
    asker: Asker = request.state.asker
    parameters = Parameters(request, ("limit", "cursor"))
    page = page_asked(parameters)
    parameters.check()
    media_type = media_type_wanted(request, (JSON,))
    shop.count(asker)
    found = shop.pinned_today()
    if found is None:
        raise refused("no-rates", "no rates are in force yet")
    told = [
        each
        for each in told_services(found.in_force.sheet, caller_of(asker))
        if each.service > page.after
    ]
    items = told[: page.limit]
    is_last = len(items) == len(told)
    body = ENCODER.encode(
        OpenServices(items=items, next_cursor=UNSET if is_last else items[-1].service)
    )
    return answered(request, body, media_type, costs=False, tag=tag_of_body(body))

"""POST /v1/comparisons: one product made in several ways, side by side."""

import asyncio

import msgspec
from litestar import Response

from gramhour.contract.comparison import Comparison, ComparisonRequest
from gramhour.contract.problem import Fault, Refused
from gramhour_service.comparing.asked import Sought, sought
from gramhour_service.comparing.evaluating import Evaluated, evaluate, evaluations
from gramhour_service.comparing.told import told
from gramhour_service.http.examples import COMPARED_NOZZLES
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.quoting import check_channel, sheets_for
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, TOML, Asked, answered, document_sent, media_type_wanted

ROUTE = "/v1/comparisons"
ENCODER = msgspec.json.Encoder()
MOST_EVALUATIONS = 20_000
"""Alternatives times quantities that are answered at once: some two seconds."""


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Compare ways to make a product",
        says=(
            "One product made in up to 50 ways (another nozzle, filament, printer, or grams and "
            "minutes of its own): what each costs, brings and takes at each quantity, ranked; "
            "with `up_to` at which quantities each is the best; for a purchase, when it has paid "
            f"for itself. Up to {MOST_EVALUATIONS} alternatives times quantities."
        ),
        scope="cost",
        takes=dict.fromkeys((JSON, TOML), ComparisonRequest),
        gives={JSON: Comparison},
        refusals=("no-rates", "cannot-be-priced"),
        examples={"a larger nozzle": COMPARED_NOZZLES},
    ),
)
async def comparisons(request: Asked) -> Response[bytes]:
    """Answer a comparison; others are answered meanwhile."""
    shop: Shop = request.app.state.shop
    asker = request.state.asker
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    sent = await document_sent(request)
    check_channel(asker, sent)
    asked = sought(sheets_for(shop, asker), shop.now(), sent)
    _check_work(asked)
    body = ENCODER.encode(told(asked, await _evaluated(asked)))
    return answered(request, body, media_type, costs=True)


async def _evaluated(asked: Sought) -> Evaluated:
    """Evaluate in slices; a quote of another caller goes in between."""
    steps = evaluate(asked)
    while True:
        try:
            next(steps)
        except StopIteration as ended:
            result: Evaluated = ended.value
            return result
        await asyncio.sleep(0)


def _check_work(asked: Sought) -> None:
    work = evaluations(asked)
    if work > MOST_EVALUATIONS:
        detail = (
            f"this takes {work} evaluations (alternatives times quantities), and at most "
            f"{MOST_EVALUATIONS} are made at once; take a smaller up_to, or fewer alternatives"
        )
        place = "/up_to" if asked.scanned else "/quantities"
        raise Refused("invalid-request", (Fault(place, detail),))

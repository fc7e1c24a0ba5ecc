"""POST /v1/comparisons: one product made in several ways, side by side."""

import asyncio
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response
from sqlite_utils import Database

from gramhour.contract.compared import Comparison, ComparisonRun
from gramhour.contract.comparison import ComparisonRequest
from gramhour.contract.problem import Fault, Refused
from gramhour_service.comparing.asked import Sought, sought
from gramhour_service.comparing.evaluating import Evaluated, evaluate, evaluations
from gramhour_service.comparing.running import begin, running
from gramhour_service.comparing.told import told
from gramhour_service.http.comparison import one_told
from gramhour_service.http.entries import read_store
from gramhour_service.http.examples import COMPARED_NOZZLES
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.quoting import check_channel, sheets_for
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, TOML, Asked, answered, document_sent, media_type_wanted
from gramhour_service.repricing.asking import new_name
from gramhour_service.sheets.workload import stored_workload
from gramhour_service.store.entries import Written

ROUTE = "/v1/comparisons"
ENCODER = msgspec.json.Encoder()
MOST_EVALUATIONS = 20_000
"""Alternatives times quantities that are answered at once: some three seconds."""
MOST_AT_ONCE = 2


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Compare ways to make a product",
        says=(
            "One product made in up to 50 ways (another nozzle, filament, printer, or grams and "
            "minutes of its own): what each costs, brings and takes at each quantity, ranked; "
            "with `up_to` at which quantities each is the best; for a purchase, when it has paid "
            f"for itself. More than {MOST_EVALUATIONS} alternatives times quantities are computed "
            "beside the quotes: ask for them at `Location`."
        ),
        scope="cost",
        takes=dict.fromkeys((JSON, TOML), ComparisonRequest),
        gives={JSON: Comparison | ComparisonRun},
        also={202: "It goes on"},
        refusals=(
            "no-rates",
            "cannot-be-priced",
            "too-many-requests",
            "store-full",
            "store-read-only",
        ),
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
    asked = sought(sheets_for(shop, asker), shop.now(), sent, lambda: shop.read(stored_workload))
    if evaluations(asked) > MOST_EVALUATIONS:
        if asker.door == "no store" or not shop.has_store():
            raise _too_much(asked)
        return await _begun(request, sent, asked)
    body = ENCODER.encode(told(asked, await _evaluated(asked)))
    return answered(request, body, media_type, costs=True)


async def _begun(request: Asked, sent: Any, asked: Sought) -> Response[bytes]:
    """Have a large comparison computed by a process of its own."""
    shop: Shop = request.app.state.shop
    asker, name = request.state.asker, new_name()

    def work(store: Database) -> None:
        if running(store) >= MOST_AT_ONCE:
            detail = f"{MOST_AT_ONCE} large comparisons are running; wait until one is finished"
            raise refused("too-many-requests", detail)
        begin(store, name, sent, asked, Written(asker.name, shop.now()))

    await shop.write(work)
    run = read_store(request, lambda store: one_told(store, asker, name))
    return answered(
        request,
        ENCODER.encode(run),
        JSON,
        costs=True,
        status=HTTPStatus.ACCEPTED,
        headers={"Location": f"{ROUTE}/{name}"},
    )


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


def _too_much(asked: Sought) -> Refused:
    """Refuse what would need a store to be kept in."""
    detail = (
        f"this takes {evaluations(asked)} evaluations (alternatives times quantities), and without "
        f"a store at most {MOST_EVALUATIONS} are made; take a smaller up_to, or fewer alternatives"
    )
    place = "/up_to" if asked.scanned else "/quantities"
    return Refused("invalid-request", (Fault(place, detail),))

"""POST /v1/repricings: what listings should cost by other rates, computed beside the quotes."""

import asyncio
from http import HTTPStatus

import msgspec
from litestar import Response
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.reading import read_repricing
from gramhour.contract.repricing import Repricing, RepricingRequest, Repricings
from gramhour_service.http.entries import CURSOR, LIMIT, page_asked, read_store
from gramhour_service.http.examples import WHAT_IF_WORK_IS_DEARER
from gramhour_service.http.once import IDEMPOTENCY_KEY, call_of, once
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    JSON,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
    tag_of_body,
)
from gramhour_service.repricing.asking import add_asked, new_name
from gramhour_service.repricing.holding import goes_on, held, lock_of, removed_when_refused
from gramhour_service.repricing.told import told_repricing
from gramhour_service.store.answered import Answer
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import path_of, writing
from gramhour_service.store.repricings import repricing_of, repricings_before, unfinished

ROUTE = "/v1/repricings"
ENCODER = msgspec.json.Encoder()
MOST_AT_ONCE = 4
WAITED, BETWEEN_LOOKS = 2.0, 0.05
"""Seconds that a caller waits for a short run."""


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Reprice listings",
        says=(
            "What listings should cost by the rates of a day, or by proposed ones that are not "
            "saved, or in a sale. It is computed beside the quotes; ask for it at `Location`. "
            "Nothing is changed until it is applied."
        ),
        scope="listings",
        headers=(IDEMPOTENCY_KEY,),
        takes={JSON: RepricingRequest},
        gives={JSON: Repricing},
        also={201: "It is finished already", 202: "It goes on"},
        refusals=(
            "no-rates",
            "other-body",
            "too-many-requests",
            "store-full",
            "store-read-only",
        ),
        examples={"what if work is dearer": WHAT_IF_WORK_IS_DEARER},
    ),
)
async def post_repricing(request: Asked) -> Response[bytes]:
    """Start a repricing."""
    shop: Shop = request.app.state.shop
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    call = call_of(request, ROUTE, await request.body())
    sent = read_repricing(await document_sent(request, (JSON,)))
    written = Written(request.state.asker.name, shop.now())
    new = new_name()

    def ask(store: Database) -> Answer:
        with writing(store):
            _check_room(store)
            add_asked(store, new, sent, written)
        return Answer(int(HTTPStatus.ACCEPTED), new.encode())

    def work(store: Database) -> str:
        path = path_of(store)
        with held(path, new) as lock:
            with removed_when_refused(path, new):
                name = once(store, call, written.at, lambda: ask(store)).answer.decode()
            if name == new:
                shop.start_run(path, new, lock)
            else:  # it was asked for before
                lock_of(path, new).unlink()
        return name

    name = await shop.write(work)
    told = await _when_finished(request, name)
    status = HTTPStatus.ACCEPTED if told.state == "running" else HTTPStatus.CREATED
    return answered(
        request,
        ENCODER.encode(told),
        media_type,
        costs=True,
        status=status,
        headers={"Location": f"{ROUTE}/{name}"},
    )


def _check_room(store: Database) -> None:
    """Refuse a run beside several others: quotes go first."""
    running = [name for name in unfinished(store) if goes_on(path_of(store), name)]
    if len(running) >= MOST_AT_ONCE:
        detail = f"{len(running)} repricings are running; wait until one is finished"
        raise refused("too-many-requests", detail)


async def _when_finished(request: Asked, name: str) -> Repricing:
    """Wait for a short run; a long one is told as it is by then."""
    told: Repricing = read_store(request, lambda store: one_told(store, name))
    for _ in range(int(WAITED / BETWEEN_LOOKS)):
        if told.state != "running":
            break
        await asyncio.sleep(BETWEEN_LOOKS)
        told = read_store(request, lambda store: one_told(store, name))
    return told


def one_told(store: Database, name: str) -> Repricing:
    """Tell a repricing. Raises ``Refused`` if there is none such."""
    row = repricing_of(store, name)
    if row is None:
        raise refused("unknown-entry", "there is no such repricing; they are kept for 30 days")
    return told_repricing(store, row)


@serves(
    "GET",
    ROUTE,
    Operation(
        summary="The repricings",
        says="Who asked for which, how far they are and what they found; the newest first.",
        scope="listings",
        parameters=(LIMIT, CURSOR),
        gives={JSON: Repricings},
        refusals=("no-rates",),
        is_conditional=True,
    ),
)
async def repricings(request: Asked) -> Response[bytes]:
    """List the repricings."""
    parameters = Parameters(request, ("limit", "cursor"))
    page = page_asked(parameters)
    parameters.check()
    media_type = media_type_wanted(request, (JSON,))

    def work(store: Database) -> Repricings:
        rows = repricings_before(store, page.after, page.limit + 1)
        return Repricings(
            items=[told_repricing(store, row) for row in rows[: page.limit]],
            next_cursor=rows[page.limit - 1].id if len(rows) > page.limit else UNSET,
        )

    body = ENCODER.encode(read_store(request, work))
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))

"""GET /v1/repricings/{id} and its lines; POST /v1/repricings/{id}/apply."""

import math
from collections.abc import Callable, Iterator
from http import HTTPStatus
from typing import get_args

import msgspec
from litestar import Response
from litestar.params import FromPath
from litestar.response import Stream
from sqlite_utils import Database

from gramhour.contract.reading import read_apply
from gramhour.contract.repricing import Applied, ApplyRequest, Repricing, RepricingLines
from gramhour_service.http.entries import CURSOR, LIMIT, ground, page_asked, read_store
from gramhour_service.http.once import IDEMPOTENCY_KEY, call_of, once
from gramhour_service.http.operation import BOOLEAN, CODE_TEXT, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.repricings import one_told
from gramhour_service.http.sealing import seal_applied
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    JSON,
    NDJSON,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
    streamed,
    tag_of_body,
)
from gramhour_service.listings.exporting import lines_with_end
from gramhour_service.repricing.applying import apply
from gramhour_service.repricing.moves import Outcome
from gramhour_service.store.answered import Answer
from gramhour_service.store.opening import writing
from gramhour_service.store.repricings import LineFilter, Place, lines_after, repricing_of

ROUTE = "/v1/repricings/{name:str}"
ENCODER = msgspec.json.Encoder()
READ_AT_ONCE = 500
OUTCOMES = get_args(Outcome)
NAME = Parameter(
    "name",
    "the repricing",
    {"type": "string", "pattern": "^[0-9a-f]{16}$"},
    place="path",
    required=True,
    example="0123456789abcdef",
)
FILTERS = (
    Parameter("outcome", "only those", {"type": "string", "enum": list(OUTCOMES)}),
    Parameter("under_floor", "only those under their floor, or that would be if kept", BOOLEAN),
    Parameter(
        "channel",
        "only those on this channel",
        CODE_TEXT,
    ),
)


@serves(
    "GET",
    ROUTE,
    Operation(
        summary="One repricing",
        says="How far it is, or how it ended, and how many listings go up, down and so on.",
        scope="listings",
        parameters=(NAME,),
        gives={JSON: Repricing},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def repricing(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Answer one repricing."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    body = ENCODER.encode(read_store(request, lambda store: one_told(store, name)))
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))


@serves(
    "GET",
    f"{ROUTE}/lines",
    Operation(
        summary="The lines of a repricing",
        says=(
            "A line a listing: old and new price, cost before and after, which rate moved it by "
            "how much. Those that failed come first, then those under their floor, then those "
            "that move most. As NDJSON it is all of them."
        ),
        scope="listings",
        parameters=(NAME, LIMIT, CURSOR, *FILTERS),
        gives={JSON: RepricingLines, NDJSON: {"type": "string"}},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def repricing_lines(request: Asked, name: FromPath[str]) -> Response[bytes] | Stream:
    """Answer the lines of a repricing."""
    parameters = Parameters(request, ("limit", "cursor", *(each.name for each in FILTERS)))
    page = page_asked(parameters)
    only = LineFilter(
        outcome=parameters.one_of("outcome", OUTCOMES),
        under_floor=parameters.flag("under_floor"),
        channel=parameters.code("channel"),
    )
    after = _place(parameters, page.after)
    parameters.check()
    media_type = media_type_wanted(request, (JSON, NDJSON))
    read_store(request, lambda store: one_told(store, name))
    shop: Shop = request.app.state.shop
    if media_type == NDJSON:
        return streamed(lines_with_end(_all_lines(shop, name, only)), NDJSON)
    found = read_store(request, lambda store: lines_after(store, name, after, page.limit + 1, only))
    told = {"id": name, "items": [msgspec.Raw(line) for _, line in found[: page.limit]]}
    if len(found) > page.limit:
        told["next_cursor"] = _cursor(found[page.limit - 1][0])
    body = ENCODER.encode(told)
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))


def _cursor(place: Place) -> str:
    return f"{place[0]!r}:{place[1]}"


def _place(parameters: Parameters, cursor: str) -> Place | None:
    """Read where the page before ended."""
    if not cursor:
        return None
    standing, _, sku = cursor.partition(":")
    try:
        place = float(standing), sku
    except ValueError:
        place = math.nan, sku
    if not math.isfinite(place[0]):
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
        return None
    return place


def _all_lines(shop: Shop, name: str, only: LineFilter) -> Iterator[bytes]:
    after: Place | None = None
    while True:
        found = shop.read(_page(name, after, only)) or []
        yield from (line for _, line in found)
        if len(found) < READ_AT_ONCE:
            return
        after = found[-1][0]


def _page(
    name: str, after: Place | None, only: LineFilter
) -> Callable[[Database], list[tuple[Place, bytes]]]:
    return lambda store: lines_after(store, name, after, READ_AT_ONCE, only)


@serves(
    "POST",
    f"{ROUTE}/apply",
    Operation(
        summary="Apply a repricing",
        says=(
            "Lists its prices from a day on, all or none, but for listings named in `except`. "
            "What it was computed from must not have changed since; a price that moves by more "
            "than `max_change_pct`, or rises from 0, must be named in `confirm`."
        ),
        scope="listings",
        parameters=(NAME,),
        headers=(IDEMPOTENCY_KEY,),
        takes={JSON: ApplyRequest},
        gives={JSON: Applied},
        refusals=(
            "unknown-entry",
            "not-applicable",
            "moved-on",
            "needs-confirming",
            "other-body",
            "no-rates",
            "store-full",
            "store-read-only",
        ),
        examples={"leave two out": {"except": [], "note": "from Monday"}},
    ),
)
async def apply_repricing(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Apply a repricing."""
    shop: Shop = request.app.state.shop
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    call = call_of(request, ROUTE.replace("{name:str}", name), await request.body())
    sent = read_apply(await document_sent(request, (JSON,)))
    asker = request.state.asker

    def work(store: Database) -> Answer:
        with writing(store):
            row = repricing_of(store, name)
            if row is None:
                raise refused("unknown-entry", "there is no such repricing")
            on = ground(store, shop, asker)  # the day may have changed while others wrote
            told = apply(store, row, sent, on.today, on.written)
        return Answer(int(HTTPStatus.OK), ENCODER.encode(told))

    answer = await shop.write(lambda store: once(store, call, shop.now(), lambda: work(store)))
    told = msgspec.json.decode(answer.answer, type=Applied)
    await seal_applied(shop, told.change - told.applied, told.change)
    return answered(request, answer.answer, media_type, costs=True, status=answer.status)

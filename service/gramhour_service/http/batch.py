"""POST /v1/quotes/batch: many requests, each with its own quote or problem, in order."""

import asyncio
from collections.abc import AsyncIterator
from functools import partial
from typing import Any, NamedTuple

import msgspec
from litestar import Response
from litestar.response import Stream
from msgspec import UNSET, UnsetType

from gramhour.contract.answer import BatchAnswer, Done, PriceBatchAnswer
from gramhour.contract.problem import Fault, Refused, pointer, sendable
from gramhour.contract.request import ListedItem, MeasuredItem, QuoteItem
from gramhour_service.http.examples import TWO_REQUESTS
from gramhour_service.http.operation import VIEW, Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import problem_of, refusal_of
from gramhour_service.http.quoting import View, Wanted, quoted, view_of
from gramhour_service.http.sealing import is_asked, make_ready
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    JSON,
    NDJSON,
    OF_COSTS,
    OF_PRICES,
    VARY,
    Asked,
    answered,
    json_sent,
    media_type_sent,
    media_type_wanted,
    parsed,
    read,
)
from gramhour_service.http.work import check_batch, computed

MOST_REQUESTS = 1_000
LONGEST_REFERENCE = 200
MOST_LINES = 2 * MOST_REQUESTS
ENCODER = msgspec.json.Encoder()
ANYTHING = {"description": "what is no request is answered by a problem of its own"}
REQUESTS = {
    "type": "object",
    "properties": {
        "requests": {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_REQUESTS,
            "items": {"anyOf": [QuoteItem, ListedItem, MeasuredItem, ANYTHING]},
        }
    },
    "required": ["requests"],
    "additionalProperties": False,
}
ANSWERS = {
    "type": "object",
    "properties": {"answers": {"type": "array", "items": BatchAnswer | PriceBatchAnswer}},
    "required": ["answers"],
}


class Item(NamedTuple):
    """One request of a batch: what it says, or why it could not be read."""

    sent: Any
    refused: Refused | None = None


@serves(
    "POST",
    "/v1/quotes/batch",
    Operation(
        summary="Quote up to 1,000 products",
        says=(
            "Each request is answered on its own, in order, by its quote or its problem; "
            "`reference` is echoed. As NDJSON, a request and an answer a line; the last line, "
            '`{"done": n}`, says that nothing was cut off.'
        ),
        scope="price",
        parameters=(VIEW,),
        takes={JSON: REQUESTS, NDJSON: ANYTHING},
        gives={JSON: ANSWERS, NDJSON: {"type": "string"}},
        examples={"two planters": TWO_REQUESTS},
    ),
)
async def batch(request: Asked) -> Response[bytes] | Stream:
    """Answer many quote requests; others are answered meanwhile."""
    shop, asker = request.app.state.shop, request.state.asker
    parameters = Parameters(request, ("view",))
    view = parameters.one_of("view", ("cost", "price"))
    parameters.check()
    wanted = Wanted(asker, view_of(asker, view, explain=False))
    sent = media_type_sent(request, (JSON, NDJSON))
    gives = media_type_wanted(request, (JSON, NDJSON) if sent == JSON else (NDJSON, JSON))
    shop.count(asker)
    body = await request.body()
    items = await read(body, partial(_listed if sent == JSON else _lines, body))
    if len(items) > 1:
        shop.count(asker, len(items) - 1)
    if any(is_asked(item.sent) for item in items):
        await make_ready(shop)
    place = "/requests" if sent == JSON else ""
    await read(body, lambda: check_batch((item.sent for item in items), place))
    answers = _answers(shop, wanted, items, request.app.state.computing)
    if gives == NDJSON:
        cached = OF_COSTS if wanted.view == "cost" else OF_PRICES
        return Stream(
            _as_lines(answers), media_type=NDJSON, headers={"Vary": VARY, "Cache-Control": cached}
        )
    told = b",".join([ENCODER.encode(answer) async for answer in answers])
    return answered(request, b'{"answers":[%s]}' % told, JSON, costs=wanted.view == "cost")


async def _answers(
    shop: Shop, wanted: Wanted, items: list[Item], at_once: asyncio.Semaphore
) -> AsyncIterator[BatchAnswer | PriceBatchAnswer]:
    for item in items:
        yield await computed(item.sent, partial(_answer, shop, wanted, item), at_once)
        await asyncio.sleep(0)  # a single quote of another caller goes in between


async def _as_lines(
    answers: AsyncIterator[BatchAnswer | PriceBatchAnswer],
) -> AsyncIterator[bytes]:
    done = 0
    async for answer in answers:
        yield ENCODER.encode(answer) + b"\n"
        done += 1
    yield ENCODER.encode(Done(done=done)) + b"\n"


def _answer(shop: Shop, wanted: Wanted, item: Item) -> BatchAnswer | PriceBatchAnswer:
    echoed = _reference(item.sent)
    if item.refused is not None:
        return _of(wanted.view, problem=problem_of(item.refused))
    try:
        return _of(wanted.view, reference=echoed, quote=quoted(shop, wanted, item.sent))
    except Exception as error:
        return _of(wanted.view, reference=echoed, problem=problem_of(refusal_of(error)))


def _reference(sent: Any) -> str | UnsetType:
    """Find the caller's own word for a request, if it can be sent back."""
    reference = sent.get("reference") if isinstance(sent, dict) else None
    if not isinstance(reference, str) or len(reference) > LONGEST_REFERENCE:
        return UNSET
    return reference if reference == sendable(reference) else UNSET


def _of(view: View, **members: Any) -> BatchAnswer | PriceBatchAnswer:
    return BatchAnswer(**members) if view == "cost" else PriceBatchAnswer(**members)


def _listed(body: bytes) -> list[Item]:
    """Read the requests of a JSON document. Raises ``Refused``."""
    sent = parsed(body, json_sent)
    if not isinstance(sent, dict) or not isinstance(sent.get("requests"), list):
        detail = 'send {"requests": [...]}, a list of quote requests'
        raise Refused("invalid-request", (Fault("", detail),))
    unknown = tuple(
        Fault(pointer(str(name)), "unknown member; only 'requests' stands here")
        for name in sent
        if name != "requests"
    )
    if unknown:
        raise Refused("invalid-request", unknown)
    _check_number(len(sent["requests"]), "/requests")
    return [Item(each) for each in sent["requests"]]


def _lines(body: bytes) -> list[Item]:
    """Read a request from each line that is not empty; one that cannot be read is told in place.

    Raises ``Refused`` if there are too many, before any is read.
    """
    if body.count(b"\n") > MOST_LINES:
        _check_number(body.count(b"\n"), "")
    lines = [(n, line) for n, line in enumerate(body.split(b"\n"), start=1) if line.strip()]
    _check_number(len(lines), "")
    return [_line(number, line) for number, line in lines]


def _line(number: int, line: bytes) -> Item:
    try:
        return Item(json_sent(line))
    except Refused as refused:
        faults = tuple(
            Fault(UNSET, f.detail.replace("at line 1, ", "at "), line=number)
            for f in refused.faults
        )
        return Item(None, Refused(refused.type, faults))


def _check_number(requests: int, place: str) -> None:
    if not 1 <= requests <= MOST_REQUESTS:
        detail = f"a batch has 1 to {MOST_REQUESTS} requests, not {requests}"
        raise Refused("invalid-request", (Fault(place, detail),))

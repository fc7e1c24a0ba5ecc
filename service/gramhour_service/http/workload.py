"""GET and PUT /v1/workload: what machines are promised for, which moves all day."""

from datetime import datetime

import msgspec
from litestar import Response
from msgspec import UNSET, UnsetType
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_workload
from gramhour.contract.workload import StoredWorkload, Workload
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.preconditions import IF_MATCH
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    ANY,
    JSON,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
    tags_sent,
)
from gramhour_service.sheets.workload import told_workload
from gramhour_service.store.opening import writing
from gramhour_service.store.workload import Put, latest_workload, put_workload

ENCODER = msgspec.json.Encoder()
FOUR_HOURS = {"machines": {"large": {"queue_h": ["4.5"]}}}


@serves(
    "GET",
    "/v1/workload",
    Operation(
        summary="What machines are promised for",
        says=(
            "The hours that each machine is promised to other orders, as they were put last; "
            "lead times begin behind them."
        ),
        scope="cost",
        gives={JSON: StoredWorkload},
        is_conditional=True,
    ),
)
async def workload(request: Asked) -> Response[bytes]:
    """Answer the workload."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    shop: Shop = request.app.state.shop
    told = told_workload(shop.read(latest_workload))
    return answered(request, ENCODER.encode(told), media_type, costs=True, tag=told.tag)


@serves(
    "PUT",
    "/v1/workload",
    Operation(
        summary="Say what machines are promised for",
        says=(
            "Puts the workload, whole, in place of what it is. One that is so already is answered "
            "with 200 whatever the tag, so a repeated request does no harm."
        ),
        scope="listings",
        headers=(IF_MATCH,),
        takes={JSON: Workload},
        gives={JSON: StoredWorkload},
        refusals=(
            "precondition-needed",
            "precondition-failed",
            "store-full",
            "store-read-only",
        ),
        examples={"the large one prints until the afternoon": FOUR_HOURS},
    ),
)
async def change_workload(request: Asked) -> Response[bytes]:
    """Put the workload."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    shop: Shop = request.app.state.shop
    known = tags_sent(request, "if-match")
    if not known or ANY in known:
        detail = "send If-Match with the tag that you read from GET /v1/workload"
        raise refused("precondition-needed", detail)
    sheet = _sheet(shop)
    sent = read_workload(await document_sent(request, (JSON,)), sheet)
    _check_numbers(sent, sheet)
    now, asker = shop.now(), request.state.asker.name
    put = await shop.write(lambda store: _put(store, sent, known, now, asker))
    told = told_workload(put)
    headers = {"ETag": told.tag}
    return answered(request, ENCODER.encode(told), media_type, costs=True, headers=headers)


def _sheet(shop: Shop) -> RateSheet | None:
    """Find the sheet whose machines may be named. None has no machines."""
    found = shop.pinned_today()
    return None if found is None else found.in_force.sheet


def _check_numbers(sent: Workload, sheet: RateSheet | None) -> None:
    """Refuse more queues than there are equal machines. Raises ``Refused``."""
    machines = UNSET if sheet is None else sheet.machines
    known = {} if machines is UNSET else machines
    faults = []
    for code, queue in sent.machines.items():
        count = known[code].count
        how_many = 1 if isinstance(count, UnsetType) else count
        if len(queue.queue_h) > how_many:
            detail = f"has {len(queue.queue_h)} entries, and the sheet {how_many} such machines"
            faults.append(Fault(pointer("machines", code, "queue_h"), detail))
    if faults:
        raise Refused("invalid-request", tuple(faults))


def _put(store: Database, sent: Workload, known: set[str], now: datetime, asker: str) -> Put | None:
    """Put the workload where it is as the caller has seen it. Raises ``Refused``."""
    with writing(store):
        before = latest_workload(store)
        told = told_workload(before)
        if told.machines == sent.machines:
            return before
        if told.tag not in known:
            detail = f"it is {told.tag} by now, put {told.changed_at} by {told.changed_by}"
            raise refused("precondition-failed", detail if before else f"it is {told.tag}: empty")
        return put_workload(store, ENCODER.encode(sent.machines).decode(), now, asker)

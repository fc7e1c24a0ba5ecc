"""POST /v1/rate-changes: several changes of the rates, one revision, all or none; or only tried."""

from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.changes import RateChanges, SavedChanges
from gramhour.contract.reading import read_changes
from gramhour_service.http.examples import DEARER_WORK
from gramhour_service.http.once import IDEMPOTENCY_KEY, call_of, once
from gramhour_service.http.operation import BOOLEAN, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.told import saved_changes
from gramhour_service.http.wire import JSON, Asked, answered, document_sent, media_type_wanted
from gramhour_service.sheets.changing import change_rates
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.answered import Answer, Call

ROUTE = "/v1/rate-changes"
ENCODER = msgspec.json.Encoder()


@serves(
    "POST",
    ROUTE,
    Operation(
        summary="Change rates",
        says=(
            "Several changes that make one revision, all or none, in force from a day on. The "
            "sheet that would result is checked whole, on that day and on each later one on which "
            "a planned change comes into force. With `trial` nothing is saved."
        ),
        scope="rates",
        parameters=(Parameter("trial", "check and tell, save nothing", BOOLEAN),),
        headers=(IDEMPOTENCY_KEY,),
        takes={JSON: RateChanges},
        gives={JSON: SavedChanges},
        also={201: "A new revision was made; `Location` names it"},
        refusals=("moved-on", "in-use", "other-body", "store-full", "store-read-only"),
        examples={"dearer work from Monday": DEARER_WORK},
    ),
)
async def rate_changes(request: Asked) -> Response[bytes]:
    """Make several changes, or try them."""
    shop, asker = request.app.state.shop, request.state.asker
    parameters = Parameters(request, ("trial",))
    trial = parameters.flag("trial")
    parameters.check()
    media_type = media_type_wanted(request, (JSON,))
    call = call_of(request, ROUTE, await request.body())
    sent = read_changes(await document_sent(request, (JSON,)))
    dated = Dated(
        now=shop.now(),
        made_by=asker.name,
        note="" if sent.note is UNSET else sent.note,
        effective_from=None if sent.effective_from is UNSET else sent.effective_from,
    )
    answer = await shop.write(lambda store: _once(store, call, sent, dated, trial=trial))
    made = answer.status == HTTPStatus.CREATED
    headers = {"Location": _location(answer.answer)} if made else None
    return answered(
        request, answer.answer, media_type, costs=True, status=answer.status, headers=headers
    )


def _once(
    store: Database, call: Call | None, sent: RateChanges, dated: Dated, *, trial: bool
) -> Answer:
    """Make the changes once, however often they are sent under the same word; try them always."""
    if trial:
        return _changed(store, sent, dated, trial=True)
    return once(store, call, dated.now, lambda: _changed(store, sent, dated, trial=False))


def _changed(store: Database, sent: RateChanges, dated: Dated, *, trial: bool) -> Answer:
    saved = change_rates(store, sent, dated, trial=trial)
    is_new = saved.revision is not None and not trial
    status = HTTPStatus.CREATED if is_new else HTTPStatus.OK
    return Answer(int(status), ENCODER.encode(saved_changes(saved, trial=trial)))


def _location(answer: bytes) -> str:
    told: Any = msgspec.json.decode(answer)
    return f"/v1/revisions/{told['rates_revision']}"

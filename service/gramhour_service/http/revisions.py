"""GET /v1/revisions: who changed the rates, when and why, and what a revision changed."""

import msgspec
from litestar import Response
from litestar.params import FromPath
from msgspec import UNSET

from gramhour.contract.changes import RevisionChanges, Revisions, StoredRevision
from gramhour.contract.one_piece import whole_number
from gramhour_service.http.operation import Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.told import stored_revision
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.sheets.history import differences_between
from gramhour_service.store.rates import newest_revision, revision_of, revisions_before

ENCODER = msgspec.json.Encoder()
PAGE, LARGEST_PAGE = 50, 500
LARGEST = 999_999_999
WHOLE = {"type": "integer", "minimum": 1, "maximum": LARGEST}
NUMBER = Parameter("number", "the revision", WHOLE, place="path", required=True, example=1)


@serves(
    "GET",
    "/v1/revisions",
    Operation(
        summary="The revisions of the rates",
        says="Who changed the rates, when, from which day on and why; the newest first.",
        scope="cost",
        parameters=(
            Parameter("limit", "how many at once", {**WHOLE, "maximum": LARGEST_PAGE}),
            Parameter("cursor", "the `next_cursor` of the page before", {"type": "string"}),
        ),
        gives={JSON: Revisions},
        is_conditional=True,
    ),
)
async def revisions(request: Asked) -> Response[bytes]:
    """List the revisions."""
    parameters = Parameters(request, ("limit", "cursor"))
    limit = parameters.whole("limit") or PAGE
    if limit > LARGEST_PAGE:
        parameters.refuse("limit", f"must be from 1 to {LARGEST_PAGE}")
    below = parameters.whole("cursor") or LARGEST
    parameters.check()
    shop: Shop = request.app.state.shop
    found = shop.read(lambda store: revisions_before(store, below, limit + 1)) or []
    page = found[:limit]
    told = Revisions(
        items=[stored_revision(each) for each in page],
        next_cursor=str(page[-1].number) if len(found) > limit else UNSET,
    )
    return _answered(request, told)


@serves(
    "GET",
    "/v1/revisions/{number:str}",
    Operation(
        summary="One revision",
        says="Who made it, when, from which day on and why.",
        scope="cost",
        parameters=(NUMBER,),
        gives={JSON: StoredRevision},
        refusals=("unknown-revision",),
        is_conditional=True,
    ),
)
async def revision(request: Asked, number: FromPath[str]) -> Response[bytes]:
    """Answer a revision."""
    Parameters(request, ()).check()
    shop: Shop = request.app.state.shop
    known = _known(shop, number)
    found = shop.read(lambda store: revision_of(store, known))
    assert found is not None
    return _answered(request, stored_revision(found))


@serves(
    "GET",
    "/v1/revisions/{number:str}/changes",
    Operation(
        summary="What a revision changed",
        says="Each rate that differs from the revision before, or from `since`, by member.",
        scope="cost",
        parameters=(NUMBER, Parameter("since", "compare with this one", {**WHOLE, "minimum": 0})),
        gives={JSON: RevisionChanges},
        refusals=("unknown-revision",),
        is_conditional=True,
    ),
)
async def revision_changes(request: Asked, number: FromPath[str]) -> Response[bytes]:
    """Answer what changed."""
    parameters = Parameters(request, ("since",))
    text = parameters.text("since")
    shop: Shop = request.app.state.shop
    known = _known(shop, number)
    since = known - 1 if text is None else whole_number(text)
    if not isinstance(since, int) or since >= known:
        parameters.refuse("since", f"must be a revision before {known}, or 0")
    parameters.check()
    changes = shop.read(lambda store: differences_between(store, since, known)) or []
    return _answered(request, RevisionChanges(rates_revision=known, since=since, changes=changes))


def _known(shop: Shop, number: str) -> int:
    """Read the number of a revision that exists. Raises ``Refused``."""
    newest = shop.read(newest_revision) or 0
    asked = whole_number(number)
    if not isinstance(asked, int) or not 1 <= asked <= newest:
        detail = f"there is no such revision; the newest is {newest}"
        raise refused("unknown-revision", detail)
    return asked


def _answered(request: Asked, told: msgspec.Struct) -> Response[bytes]:
    media_type = media_type_wanted(request, (JSON,))
    body = ENCODER.encode(told)
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))

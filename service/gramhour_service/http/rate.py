"""PUT and DELETE /v1/rates/{kind}/{code}: one rate, by whoever has seen what it was."""

from collections.abc import Callable
from http import HTTPStatus

import msgspec
from litestar import Response
from litestar.params import FromPath
from sqlite_utils import Database

from gramhour.contract.changes import SavedRate
from gramhour.contract.members import CODE_FORM
from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.entries import check_name
from gramhour_service.http.operation import Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.preconditions import IF_MATCH, IF_NONE_MATCH, precondition
from gramhour_service.http.problems import refused
from gramhour_service.http.rates import CODE, KIND, rate_tag
from gramhour_service.http.told import cautions_of_saved, planned_change, value_of
from gramhour_service.http.wire import (
    JSON,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
)
from gramhour_service.sheets.changing import change_rate, is_rate, told_in_words
from gramhour_service.sheets.rows import ALL_KINDS, SHEET_WIDE, SHOP
from gramhour_service.sheets.saving import Dated, Saved
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import Change, Key, latest_changes, newest_revision

ENCODER = msgspec.json.Encoder()
EFFECTIVE_FROM = Parameter(
    "effective_from",
    "in force from that day on; else from today in the shop",
    {"type": "string", "format": "date"},
)
NOTE = Parameter("note", "why; a day in the past needs one", {"type": "string", "maxLength": 2000})
RATE = {"description": "the rate, as a sheet has it"}
REFUSALS = (
    "precondition-needed",
    "precondition-failed",
    "unknown-rate",
    "store-full",
    "store-read-only",
)


@serves(
    "PUT",
    "/v1/rates/{kind:str}/{code:str}",
    Operation(
        summary="Change or add a rate",
        says=(
            "Puts a rate, whole, in place of what it is on a day, as one revision. A rate that is "
            "so already is answered with 200 whatever the tag, so a repeated request does no harm."
        ),
        scope="rates",
        parameters=(KIND, CODE, EFFECTIVE_FROM, NOTE),
        headers=(IF_MATCH, IF_NONE_MATCH),
        takes={JSON: RATE},
        gives={JSON: SavedRate},
        also={201: "It is new"},
        refusals=REFUSALS,
        examples={"dearer by the kilogram": {"name": "ASA, herb green", "price_per_kg": "31.00"}},
    ),
)
async def put_rate(request: Asked, kind: FromPath[str], code: FromPath[str]) -> Response[bytes]:
    """Change or add a rate."""
    shop, dated = request.app.state.shop, _dated(request)
    media_type = media_type_wanted(request, (JSON,))
    key = _key(kind, code)
    may_change = _seen(request, may_create=True)
    value = await document_sent(request, (JSON,))
    if value is None:
        raise Refused("invalid-request", (Fault("", "null is no rate; DELETE takes one away"),))

    def work(store: Database) -> tuple[Saved, int, Change]:
        with writing(store):
            saved = change_rate(store, key, value, dated, lambda change: may_change(store, change))
            newest = newest_revision(store)
            return saved, newest, latest_changes(store, newest, saved.effective_from)[key]

    saved, newest, change = await shop.write(work)
    told = SavedRate(
        rates_revision=newest,
        rates_on=saved.effective_from,
        kind=kind,
        code=code,
        changed_in=change.revision,
        in_force_from=msgspec.convert(change.effective_from, type(saved.effective_from)),
        value=value_of(change.value),
        overruled_by=[planned_change(planned) for planned in saved.overruled_by],
        cautions=cautions_of_saved(saved),
    )
    return answered(
        request,
        ENCODER.encode(told),
        media_type,
        costs=True,
        status=HTTPStatus.CREATED if key in saved.added else HTTPStatus.OK,
        headers={"ETag": rate_tag([change])},
    )


@serves(
    "DELETE",
    "/v1/rates/{kind:str}/{code:str}",
    Operation(
        summary="Take a rate away",
        says="Takes a rate away from a day on; what it was before stays readable.",
        scope="rates",
        parameters=(KIND, CODE, EFFECTIVE_FROM, NOTE),
        headers=(IF_MATCH,),
        gives={JSON: SavedRate},
        also={204: "It is gone from that day on"},
        refusals=(*REFUSALS, "invalid-request", "in-use"),
    ),
)
async def delete_rate(request: Asked, kind: FromPath[str], code: FromPath[str]) -> Response[bytes]:
    """Take a rate away."""
    shop, dated = request.app.state.shop, _dated(request)
    key = _key(kind, code)
    may_change = _seen(request, may_create=False)

    def check(store: Database, change: Change | None) -> None:
        if change is None:
            detail = "there is no such rate on that day"
            raise refused("unknown-rate", detail)
        may_change(store, change)

    def work(store: Database) -> Saved:
        return change_rate(store, key, None, dated, lambda change: check(store, change))

    await shop.write(work)
    return Response(b"", status_code=HTTPStatus.NO_CONTENT, headers={"Cache-Control": "no-store"})


def _key(kind: str, code: str) -> Key:
    if kind not in ALL_KINDS:
        detail = f"there is no such kind of rates; there are {', '.join(ALL_KINDS)}"
        raise refused("unknown-rate", detail)
    if not is_rate((kind, code)):
        detail = f"nothing sheet-wide has this name; there are {', '.join(SHEET_WIDE)}"
        raise refused("unknown-rate", detail)
    if kind != SHOP:
        check_name(code, CODE, CODE_FORM)
    return kind, code


def _dated(request: Asked) -> Dated:
    """Read who changes a rate, when, why and from which day on. Raises ``Refused``."""
    parameters = Parameters(request, ("effective_from", "note"))
    note, day = parameters.text("note") or "", parameters.day("effective_from")
    if len(note) > NOTE.schema["maxLength"]:
        parameters.refuse("note", f"must have at most {NOTE.schema['maxLength']} characters")
    parameters.check()
    return Dated(request.app.state.shop.now(), request.state.asker.name, note, day)


def _seen(request: Asked, *, may_create: bool) -> Callable[[Database, Change | None], None]:
    """Read what state of the rate the caller has seen; the function refuses any other."""
    check = precondition(request, "rate", may_create=may_create)

    def check_rate(store: Database, change: Change | None) -> None:
        if change is None:
            check(None, str)
        else:
            check(rate_tag([change]), lambda: told_in_words(store, change))

    return check_rate

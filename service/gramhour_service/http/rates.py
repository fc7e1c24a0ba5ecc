"""GET /v1/rates: the sheet in force, one kind of it, one rate."""

from collections.abc import Sequence

import msgspec
from litestar import Response
from litestar.params import FromPath

from gramhour.contract.noting import meant
from gramhour.contract.problem import Refused
from gramhour.contract.stored import StoredKind, StoredRate, StoredSheet
from gramhour_service.http.operation import (
    RATES_ON,
    RATES_REVISION,
    Operation,
    Parameter,
    serves,
)
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.told import value_of
from gramhour_service.http.wire import CSV, JSON, Asked, answered, media_type_wanted
from gramhour_service.sheets.asked import no_such_sheet
from gramhour_service.sheets.csv_kind import written_rows
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned
from gramhour_service.sheets.rows import ALL_KINDS, plain_value
from gramhour_service.store.rates import Change

ENCODER = msgspec.json.Encoder()
KIND = Parameter(
    "kind",
    "a kind of rates; `shop` has what is sheet-wide",
    {"type": "string", "enum": list(ALL_KINDS)},
    place="path",
    required=True,
    example="materials",
)
CODE = Parameter(
    "code",
    "the rate's code; of `shop`, the member's name",
    {"type": "string", "pattern": "^[a-z0-9][a-z0-9_-]{0,62}$"},
    place="path",
    required=True,
    example="asa-green",
)
PINS = (RATES_REVISION, RATES_ON)


@serves(
    "GET",
    "/v1/rates",
    Operation(
        summary="The rate sheet",
        says="The sheet in force: today's as known now, or another day's, or as known earlier.",
        scope="cost",
        parameters=PINS,
        gives={JSON: StoredSheet},
        refusals=("unknown-rate",),
        is_conditional=True,
    ),
)
async def sheet(request: Asked) -> Response[bytes]:
    """Answer the sheet in force."""
    found = _pinned(request)
    in_force = found.in_force
    told = StoredSheet(
        rates_revision=in_force.revision,
        rates_on=found.on,
        in_force_from=in_force.since,
        rates=in_force.sheet,
    )
    return _answered(request, told, rate_tag(list(in_force.changes.values())))


@serves(
    "GET",
    "/v1/rates/{kind:str}",
    Operation(
        summary="One kind of rates",
        says=(
            "All rates of a kind by code; of `shop`, what is sheet-wide. As CSV it is a row a rate "
            "and a column a member, as `gramhour rates import --kind` takes it back."
        ),
        scope="cost",
        parameters=(KIND, *PINS),
        gives={JSON: StoredKind, CSV: {"type": "string"}},
        refusals=("unknown-rate",),
        is_conditional=True,
    ),
)
async def kind(request: Asked, kind: FromPath[str]) -> Response[bytes]:
    """Answer all rates of a kind."""
    found = _pinned(request)
    if kind not in ALL_KINDS:
        raise _unknown(f"there is no such kind of rates; there are {', '.join(ALL_KINDS)}")
    present = [change for change in found.in_force.present if change.kind == kind]
    tag = rate_tag([each for each in found.in_force.changes.values() if each.kind == kind])
    if media_type_wanted(request, (JSON, CSV)) == CSV:
        rates = {change.code: plain_value(change) for change in present}
        body = written_rows(kind, rates).encode()
        return answered(request, body, CSV, costs=True, tag=f'{tag[:-1]}.csv"')
    told = StoredKind(
        rates_revision=found.in_force.revision,
        rates_on=found.on,
        kind=kind,
        rates={change.code: value_of(change.value) for change in present},
    )
    return _answered(request, told, tag)


@serves(
    "GET",
    "/v1/rates/{kind:str}/{code:str}",
    Operation(
        summary="One rate",
        says="A rate, the revision that last changed it and the day that it is in force from.",
        scope="cost",
        parameters=(KIND, CODE, *PINS),
        gives={JSON: StoredRate},
        refusals=("unknown-rate",),
        is_conditional=True,
    ),
)
async def rate(request: Asked, kind: FromPath[str], code: FromPath[str]) -> Response[bytes]:
    """Answer one rate."""
    found = _pinned(request)
    change = found.in_force.changes.get((kind, code))
    if change is None or change.value is None:
        codes = [each.code for each in found.in_force.present if each.kind == kind]
        near = meant(code, codes)
        raise _unknown(f"the sheet has no rate of this kind and code on that day{near}")
    told = StoredRate(
        rates_revision=found.in_force.revision,
        rates_on=found.on,
        kind=kind,
        code=code,
        changed_in=change.revision,
        in_force_from=msgspec.convert(change.effective_from, type(found.on)),
        value=value_of(change.value),
    )
    return _answered(request, told, rate_tag([change]))


def _pinned(request: Asked) -> Pinned:
    """Find the sheet that the query names. Raises ``Refused``."""
    parameters = Parameters(request, ("rates_revision", "rates_on"))
    revision, on = parameters.whole("rates_revision"), parameters.day("rates_on")
    parameters.check()
    try:
        found: Pinned | None = request.app.state.shop.pinned(revision, on)
    except (NoSuchRevision, NothingInForce) as error:
        raise _unknown(no_such_sheet(error)) from None
    if found is None:
        raise _unknown("no rates are stored yet; import a sheet")
    return found


def rate_tag(changes: Sequence[Change]) -> str:
    """Name the last revision that changed rates, and the first day of the stretch they hold in."""
    revision = max((change.revision for change in changes), default=0)
    since = max((change.effective_from for change in changes), default="")
    return f'"r{revision}@{since}"'


def _answered(request: Asked, told: msgspec.Struct, tag: str) -> Response[bytes]:
    media_type = media_type_wanted(request, (JSON,))
    return answered(request, ENCODER.encode(told), media_type, costs=True, tag=tag)


def _unknown(detail: str) -> Refused:
    return refused("unknown-rate", detail)

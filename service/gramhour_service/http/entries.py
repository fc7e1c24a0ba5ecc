"""What the routes of products and of listings share: reading pages, one entry, many rows."""

import re
from collections.abc import Callable, Sequence
from functools import partial
from http import HTTPStatus
from typing import Any, NamedTuple

import msgspec
from litestar import Response
from sqlite_utils import Database

from gramhour.contract.noting import shown
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour_service.http.asking import Asker
from gramhour_service.http.forms_sent import DONE_LINE, MOST_ROWS
from gramhour_service.http.once import call_of, once
from gramhour_service.http.operation import BOOLEAN, Parameter
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.preconditions import precondition
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, Asked, answered, document_sent, json_sent, parsed, read
from gramhour_service.listings.keeping import Ground, Put, take_away
from gramhour_service.listings.rows import NotKept, SentRow, put_rows
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.answered import Answer
from gramhour_service.store.entries import Entry, EntryKind, Written, entry_of
from gramhour_service.store.opening import writing

ENCODER = msgspec.json.Encoder()
PAGE, LARGEST_PAGE = 100, 1_000
LONGEST_CURSOR = 200
LIMIT = Parameter(
    "limit", "how many at once", {"type": "integer", "minimum": 1, "maximum": LARGEST_PAGE}
)
CURSOR = Parameter("cursor", "the `next_cursor` of the page before", {"type": "string"})
ALL_OR_NONE = Parameter(
    "all_or_none",
    "`false` keeps the rows without a fault though others have some",
    {**BOOLEAN, "default": "true"},
)
ROW_REFUSALS = ("no-rates", "other-body", "store-full", "store-read-only")
ONE_REFUSALS = (
    "precondition-needed",
    "precondition-failed",
    "unknown-entry",
    "store-full",
    "store-read-only",
)


def rows_of(row: type[msgspec.Struct]) -> dict[str, Any]:
    """Describe a document of rows of a kind."""
    faulty = {"description": "a row with faults is told with its own outcome"}
    items = {"type": "array", "minItems": 1, "items": {"anyOf": [row, faulty]}}
    return {
        "type": "object",
        "properties": {"items": items},
        "required": ["items"],
        "additionalProperties": False,
    }


class Thing(NamedTuple):
    """A kind of entry: how one is called, read from plain values and put."""

    kind: EntryKind
    noun: str
    put: Callable[[Ground, str, Any, Callable[[Entry | None], None]], Put]
    read: Callable[[Ground], Callable[[Any], Any]]


class Page(NamedTuple):
    """Which part of a list is asked for."""

    limit: int
    after: str


def page_asked(parameters: Parameters) -> Page:
    """Read which part of a list is asked for; faults are noted."""
    limit, cursor = parameters.whole("limit") or PAGE, parameters.text("cursor") or ""
    if limit > LARGEST_PAGE:
        parameters.refuse("limit", f"must be from 1 to {LARGEST_PAGE}")
    if len(cursor) > LONGEST_CURSOR:
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
    return Page(limit, cursor)


def read_store(request: Asked, work: Callable[[Database], Any]) -> Any:
    """Read something from the store. Raises ``Refused`` if there is none."""
    shop: Shop = request.app.state.shop
    if not shop.has_store():
        raise refused("no-rates", "there is no store yet; import a rate sheet to make one")
    return shop.read(work)


def found(store: Database, thing: Thing, name: str) -> Entry:
    """Find an entry. Raises ``Refused``."""
    entry = entry_of(store, thing.kind, name)
    if entry is None:
        raise refused("unknown-entry", f"there is no {thing.noun} of that name")
    return entry


def tag_of(entry: Entry) -> str:
    """Make an entry's tag: its version."""
    return f'"v{entry.version}"'


def ground(store: Database, shop: Shop, asker: Asker) -> Ground:
    """Say what is written upon, and by whom. Raises ``Refused`` if no rates are in force."""
    now = shop.now()
    today = Sheets(store).pinned_today(now)
    if today is None:
        raise refused("no-rates", "no rates are in force; import a sheet first")
    in_force = today.in_force
    return Ground(store, in_force.sheet, in_force.kept, today.on, Written(asker.name, now))


def check_name(name: str, parameter: Parameter, form: str) -> None:
    """Refuse a name in the path that no entry can have, and say which form it has to have."""
    pattern = parameter.schema["pattern"]
    if not re.fullmatch(pattern.strip("^$"), name):
        detail = f"must be {form}, not {shown(name)}"
        raise Refused("invalid-request", (Fault(parameter=parameter.name, detail=detail),))


async def put_one(request: Asked, thing: Thing, name: str) -> tuple[Entry, Put]:
    """Put one entry in place of what it is; say what it is now, and what became of it."""
    shop, asker = request.app.state.shop, request.state.asker
    Parameters(request, ()).check()
    check = precondition(request, thing.noun, may_create=True)
    sent = await document_sent(request, (JSON,))

    def seen(entry: Entry | None) -> None:
        check(None if entry is None else tag_of(entry), lambda: _by(entry))

    def work(store: Database) -> tuple[Entry, Put]:
        with writing(store):
            on = ground(store, shop, asker)
            put = thing.put(on, name, thing.read(on)(sent), seen)
            return found(store, thing, name), put

    entry, put = await shop.write(work)
    return entry, put


async def delete_one(request: Asked, thing: Thing, name: str) -> Response[bytes]:
    """Take one entry away."""
    shop, asker = request.app.state.shop, request.state.asker
    Parameters(request, ()).check()
    check = precondition(request, thing.noun, may_create=False)

    def work(store: Database) -> None:
        with writing(store):
            entry = found(store, thing, name)
            check(tag_of(entry), lambda: _by(entry))
            take_away(ground(store, shop, asker), thing.kind, entry)

    await shop.write(work)
    return Response(b"", status_code=HTTPStatus.NO_CONTENT, headers={"Cache-Control": "no-store"})


Lay = Callable[[Database], Sequence[SentRow]]
"""Makes the rows as they are to be, of what was sent and what is there."""


async def put_many(
    request: Asked, thing: Thing, route: str, lay: Callable[[bytes], Lay]
) -> Response[bytes]:
    """Put rows, all or none unless asked otherwise; answer each with its outcome."""
    shop, asker = request.app.state.shop, request.state.asker
    parameters = Parameters(request, ("all_or_none",))
    all_or_none = parameters.one_of("all_or_none", ("true", "false")) != "false"
    parameters.check()
    body = await request.body()
    call = call_of(request, route, body)
    laid = await read(body, partial(lay, body))

    def put(store: Database) -> Answer:
        with writing(store):
            outcomes = put_rows(
                ground(store, shop, asker), thing.kind, laid(store), all_or_none=all_or_none
            )
        return Answer(int(HTTPStatus.OK), ENCODER.encode(outcomes))

    try:
        answer = await shop.write(lambda store: once(store, call, shop.now(), lambda: put(store)))
    except NotKept as error:
        raise Refused("invalid-request", error.faults) from None
    return answered(request, answer.answer, JSON, costs=True, status=answer.status)


def rows_of_document(body: bytes) -> Lay:
    """Read the rows of ``{"items": [...]}``. Raises ``Refused``."""
    sent = parsed(body, json_sent)
    if not isinstance(sent, dict) or not isinstance(sent.get("items"), list):
        raise Refused("invalid-request", (Fault("", 'send {"items": [...]}, a list of rows'),))
    unknown = tuple(
        Fault(pointer(str(name)), "unknown member; only 'items' stands here")
        for name in sent
        if name != "items"
    )
    if unknown:
        raise Refused("invalid-request", unknown)
    check_number(len(sent["items"]), "/items")
    return lambda _: [SentRow(each) for each in sent["items"]]


def rows_of_lines(body: bytes) -> Lay:
    """Read a row from each line that is not empty; one that cannot be read is told in place."""
    lines = [(n, line) for n, line in enumerate(body.split(b"\n"), start=1) if line.strip()]
    if lines and (done := DONE_LINE.fullmatch(lines[-1][1].strip())):
        number, _ = lines.pop()
        _check_whole(int(done[1]), number, len(lines))
    check_number(len(lines), "")
    return lambda _: [_row_of_line(n, line) for n, line in lines]


def _check_whole(told: int, number: int, found: int) -> None:
    """Refuse a file that lost lines since it was written."""
    if told != found:
        detail = f"it says that {told} lines come before it, and there are {found}"
        raise Refused("invalid-request", (Fault(line=number, detail=detail),))


def _row_of_line(number: int, line: bytes) -> SentRow:
    try:
        return SentRow(json_sent(line), number)
    except Refused as refused_line:
        faults = tuple(
            Fault("", each.detail.replace("at line 1, ", "at ")) for each in refused_line.faults
        )
        return SentRow(None, number, Refused(refused_line.type, faults))


def check_number(rows: int, place: str) -> None:
    """Refuse no rows, and too many at once."""
    if not 1 <= rows <= MOST_ROWS:
        detail = f"send 1 to {MOST_ROWS} rows at once, not {rows}"
        raise Refused("invalid-request", (Fault(place, detail),))


def _by(entry: Entry | None) -> str:
    assert entry is not None, "nothing was changed where there is nothing"
    return f"changed by {entry.changed_by} at {entry.changed_at}"

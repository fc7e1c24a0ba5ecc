"""Asks for a quote: with the request's rates, a sheet's or the stored ones, or a service."""

from functools import partial
from pathlib import Path
from typing import Any

from msgspec import UNSET

from gramhour.client import Client
from gramhour.contract.answer import Quote
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import overridden
from gramhour.contract.reading import read_request
from gramhour_service.answer.quoting import answer_request
from gramhour_service.commandline.files import Document
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.refusals import placed
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.store import now, opened
from gramhour_service.commandline.stored import STORED
from gramhour_service.resolve.days import day_at
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.asked import Asked, FindSheet, read_asked
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.rows import plain_sheet
from gramhour_service.sheets.workload import outside_of, stored_workload


def by_own_rates(request: Document, *, explain: bool) -> Quoted:
    """Ask with the rates that the request brings. Raises ``NotAnswered``."""
    asked = _read(request, lambda *_: None)
    return _quoted(request, asked, None, Outside(now()), explain=explain)


def by_sheet(request: Document, sheet: Document, *, explain: bool) -> Quoted:
    """Ask with the rates of a file. Raises ``NotAnswered`` with every fault found in either."""
    try:
        rates = sound_sheet(sheet.says)
    except Refused as refused:
        raise placed(refused, sheet.file) from None
    try:
        read = read_request(request.says, rates)
    except Refused as refused:
        raise placed(refused, request.file, sheet.file) from None
    if read.rates_revision is not UNSET:
        detail = "a sheet of a file has no revisions; leave --rates away, or this"
        raise placed(Refused("invalid-request", (Fault("/rates_revision", detail),)), request.file)
    asked = Asked(read, rates, UNSET, day_at(now(), rates))
    return _quoted(request, asked, sheet.file, Outside(now()), explain=explain)


def by_service(request: Document, url: str, key: str | None, *, explain: bool) -> Quoted:
    """Ask a running service. Raises ``NotAnswered``."""
    own = request.says.get("rates") if isinstance(request.says, dict) else None
    with asked_service(url, key, request.file) as client:
        answer = client.quote(request.says, explain=explain)
        sheet = own or _rates_of(client, answer)

    def workbook() -> bytes:
        with asked_service(url, key, request.file) as client:
            return client.quote_workbook(request.says)

    return Quoted(answer, request.says, sheet, None if own else f"the rates of {url}", workbook)


def _rates_of(client: Client, answer: Quote) -> Any:
    """Fetch the sheet that a quote was priced by, for the names in it."""
    assert answer.rates_revision is not UNSET
    assert answer.rates_on is not UNSET
    stored = client.rates(rates_revision=answer.rates_revision, rates_on=answer.rates_on)
    return plain_sheet(stored.rates)


def by_store(request: Document, path: Path, *, explain: bool) -> Quoted:
    """Ask with the stored rates. Raises ``NotAnswered``."""
    with opened(path) as store:
        sheets = Sheets(store)
        asked = _read(request, lambda revision, on: sheets.pinned(now(), revision, on))
        outside = outside_of(asked, now(), lambda: stored_workload(store))
    return _quoted(request, asked, STORED, outside, explain=explain)


def _read(request: Document, find: FindSheet) -> Asked:
    try:
        return read_asked(find, now(), request.says)
    except Refused as refused:
        raise placed(refused, request.file) from None


def _quoted(
    request: Document, asked: Asked, sheet_file: str | None, outside: Outside, *, explain: bool
) -> Quoted:
    """Answer, and keep the rates that were used, overrides in place, for their names."""
    try:
        answer = answer_request(
            asked.request,
            asked.sheet,
            revision=asked.revision,
            on=asked.on,
            outside=outside,
            explain=explain,
        )
    except Refused as refused:
        raise placed(refused, request.file, sheet_file) from None
    sheet = asked.sheet if asked.request.rates is UNSET else asked.request.rates
    assert sheet is not None
    if asked.request.rate_overrides is not UNSET:
        sheet = overridden(sheet, asked.request.rate_overrides)
    workbook = partial(_workbook_of, asked, answer)
    return Quoted(answer, request.says, plain_sheet(sheet), sheet_file, workbook)


def _workbook_of(asked: Asked, answer: Quote) -> bytes:
    from gramhour_service.workbook.making import workbook_of  # noqa: PLC0415 (few ask for one)

    return workbook_of(asked.request, asked.sheet, answer)

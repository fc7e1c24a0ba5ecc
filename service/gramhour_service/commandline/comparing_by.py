"""Compares: with the request's rates, a sheet's or the stored ones, or by a running service."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from gramhour.contract.compared import Comparison
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.workload import Workload
from gramhour_service.commandline.files import Document
from gramhour_service.commandline.progress import shown_progress
from gramhour_service.commandline.refusals import placed
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.store import now, opened
from gramhour_service.comparing.asked import sought
from gramhour_service.comparing.evaluating import evaluated, evaluations
from gramhour_service.comparing.told import told
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.asked import FindSheet
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.workload import stored_workload

WHAT = "Comparing"


class Answered(NamedTuple):
    """A comparison, with the request that it answers, as it was sent."""

    comparison: Comparison
    request: dict[str, Any]


def by_own_rates(request: Document) -> Answered:
    """Compare with the rates that the request brings. Raises ``NotAnswered``."""
    return _answered(request, request.says, lambda *_: None, None)


def by_sheet(request: Document, sheet: Document) -> Answered:
    """Compare with the rates of a file. Raises ``NotAnswered`` with every fault found."""
    try:
        sound_sheet(sheet.says)
    except Refused as refused:
        raise placed(refused, sheet.file) from None
    says = request.says
    if isinstance(says, dict) and "rates_revision" in says:
        detail = "a sheet of a file has no revisions; leave --rates away, or this"
        raise placed(Refused("invalid-request", (Fault("/rates_revision", detail),)), request.file)
    sent = {**says, "rates": sheet.says} if isinstance(says, dict) else says
    return _answered(request, sent, lambda *_: None, sheet.file)


def by_store(request: Document, path: Path) -> Answered:
    """Compare with the stored rates. Raises ``NotAnswered``."""
    with opened(path) as store:
        sheets = Sheets(store)
        find: FindSheet = lambda revision, on: sheets.pinned(now(), revision, on)  # noqa: E731
        return _answered(request, request.says, find, None, lambda: stored_workload(store))


def by_service(request: Document, url: str, key: str | None) -> Answered:
    """Ask a running service. Raises ``NotAnswered``."""
    with asked_service(url, key, request.file) as client:
        return Answered(client.compare(request.says), request.says)


def _answered(
    request: Document,
    sent: Any,
    find: FindSheet,
    sheet_file: str | None,
    read: Callable[[], Workload | None] = lambda: None,
) -> Answered:
    try:
        asked = sought(find, now(), sent, read)
        of = evaluations(asked)
        with shown_progress(WHAT) as progress:
            found = evaluated(asked, lambda done: progress(done, of))
    except Refused as refused:
        raise placed(refused, request.file, sheet_file) from None
    return Answered(told(asked, found), request.says)

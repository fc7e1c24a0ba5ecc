"""The sheet that a quote request is to be priced by: its own, or the stored one that it names."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.noting import FAULTY, Reading
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour.contract.times import read_day
from gramhour_service.resolve.days import day_at
from gramhour_service.resolve.rates import Kept
from gramhour_service.sheets.described import read_by
from gramhour_service.sheets.in_force import (
    NoSuchRevision,
    NothingInForce,
    NothingStored,
    Pinned,
)

FindSheet = Callable[[int | None, date | None], Pinned | None]
"""Finds the sheet of a day as known at a revision; none where nothing is stored."""


class Asked(NamedTuple):
    """A request that was read, the stored sheet to price it by, and the day it is priced for.

    ``kept`` is what was resolved of that sheet for other requests.
    """

    request: QuoteRequest
    sheet: RateSheet | None
    revision: int | UnsetType
    on: date | UnsetType
    kept: Kept | None = None


def read_asked(find: FindSheet, now: datetime, sent: Any, *, names_codes: bool = True) -> Asked:
    """Read a request with the sheet that it is to be priced by.

    ``names_codes`` says whether a fault may name a code of the sheet. Raises ``Refused`` with
    every fault found.
    """
    found, faults = sheet_asked(find, sent)
    sheet = None if found is None else found.in_force.sheet
    try:
        if found is None:
            request = read_request(sent, sheet, names_codes=names_codes)
        else:
            request = read_by(found.in_force, sent, names_codes=names_codes)
    except Refused as refused:
        if faults:
            raise Refused("invalid-request", (*faults, *refused.faults)) from None
        raise
    if faults:
        raise Refused("invalid-request", faults)
    if found is None:
        assert request.rates is not UNSET, "the reader asks for rates"
        return Asked(request, None, UNSET, day_at(now, request.rates))
    return Asked(request, sheet, found.in_force.revision, found.on, found.in_force.kept)


NOTHING_STORED = (
    "no rates are stored yet: begin with a whole sheet. gramhour demo-sheet > my-rates.toml gives "
    "one to put your prices into, gramhour rates import my-rates.toml takes it in"
)


def no_such_sheet(error: NoSuchRevision | NothingInForce) -> str:
    """Say why there is no sheet to a revision and a day."""
    if isinstance(error, NoSuchRevision):
        return f"there is no such revision yet; the newest is {error.newest}"
    if isinstance(error, NothingStored):
        return NOTHING_STORED
    return "no rates are in force on that day as known then; choose another, or import a sheet"


def sheet_asked(find: FindSheet, sent: Any) -> tuple[Pinned | None, tuple[Fault, ...]]:
    """Find the stored sheet that a request names; none where it brings its own.

    Where there is no such sheet, that is a fault, and today's stands in for it, so that the other
    faults can be found too.
    """
    sent = sent if isinstance(sent, dict) else {}
    if sent.get("rates") is not None:
        return None, ()
    revision, on = _revision(sent.get("rates_revision")), _day(sent.get("rates_on"))
    try:
        return find(revision, on), ()
    except NoSuchRevision as error:
        faults = (Fault(pointer("rates_revision"), no_such_sheet(error)),)
    except NothingInForce as error:
        if on is None and revision is None:
            return None, ()
        member = "rates_revision" if on is None else "rates_on"
        faults = (Fault(pointer(member), no_such_sheet(error)),)
    try:
        return find(None, None), faults
    except NothingInForce:
        return None, faults


def _revision(sent: Any) -> int | None:
    """Read the revision asked for; a faulty one is refused later, with all other faults."""
    return sent if isinstance(sent, int) and not isinstance(sent, bool) and sent > 0 else None


def _day(sent: Any) -> Any:
    """Read the day asked for; a faulty one is refused later, with all other faults."""
    if sent is None:
        return None
    day = read_day(sent, (), Reading([], {}))
    return None if day is FAULTY else day

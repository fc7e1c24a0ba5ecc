"""Reads what a caller sent into the contract's types and collects every fault on the way.

A library's decoder stops at the first fault, and takes "NaN", "1_000" or "1E+999999" for a
decimal. Here each type of the contract is compiled once into a reader that goes on after a
fault, so that one answer names them all. A reader knows shapes, bounds, members that exclude
each other and codes that must exist; it knows nothing of costing.
"""

from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import msgspec

from gramhour.contract.calibration import CalibrationRequest
from gramhour.contract.changes import RateChanges
from gramhour.contract.comparison import ComparisonRequest
from gramhour.contract.noting import Codes, Reading
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import KINDS, OF_A_SHEET, RateOverrides, RateSheet
from gramhour.contract.readers import reader_of
from gramhour.contract.repricing import ApplyRequest, RepricingRequest
from gramhour.contract.request import (
    ListedItem,
    ListedRequest,
    MeasuredItem,
    MeasuredRequest,
    QuoteItem,
    QuoteRequest,
)
from gramhour.contract.seals import SealShown
from gramhour.contract.workload import Workload

MOST_CHANGES = 1_000
SHEET_SENT = (
    "this is a rate sheet, where a quote request is expected: send it as 'rates' of one, or keep "
    "it, with gramhour rates import or by /v1/rate-changes"
)
OF_A_REQUEST = frozenset({"product", "measurement", "quantity"})
"""Without them it asks for nothing."""
T = TypeVar("T", bound=msgspec.Struct)


def read_request(
    sent: Any, sheet: RateSheet | None = None, *, names_codes: bool = True
) -> QuoteRequest:
    """Read a quote request, alone or one of many (with a ``reference``).

    Codes must exist in its own ``rates``, else in ``sheet``, or in its ``rate_overrides``;
    ``names_codes`` says whether a fault may name one that the caller did not. A member that was
    read before stands as it is. Raises ``Refused`` with every fault found.
    """
    if isinstance(sent, dict) and OF_A_SHEET & sent.keys() and not OF_A_REQUEST & sent.keys():
        raise Refused("invalid-request", (Fault("", SHEET_SENT),))
    into = QuoteItem if isinstance(sent, dict) and "reference" in sent else QuoteRequest
    return _read(into, sent, _codes_for(sent, sheet), "invalid-request", names_codes=names_codes)


def read_comparison(sent: Any, sheet: RateSheet | None = None) -> ComparisonRequest:
    """Read what is to be compared, its codes as those of a quote request.

    Raises ``Refused`` with every fault found.
    """
    return _read(ComparisonRequest, sent, _codes_for(sent, sheet), "invalid-request")


def read_calibration(sent: Any, sheet: RateSheet | None) -> CalibrationRequest:
    """Read builds that were timed. Raises ``Refused`` with every fault found."""
    return _read(CalibrationRequest, sent, _codes_for(sent, sheet), "invalid-request")


def _codes_for(sent: Any, sheet: RateSheet | None) -> Codes:
    """List the codes that a request may name. Raises ``Refused`` where there are no rates."""
    own = sent.get("rates") if isinstance(sent, dict) else None
    if own is None and sheet is None and isinstance(sent, dict):
        raise Refused(
            "no-rates",
            (Fault("/rates", "no rate sheet: send one as 'rates', or name one to price with"),),
        )
    codes = codes_of(own if own is not None else sheet)
    overrides = sent.get("rate_overrides") if isinstance(sent, dict) else None
    if overrides is not None:
        more = codes_of(overrides)
        codes = {kind: (*codes[kind], *more[kind]) for kind in KINDS}
    return codes


def read_changes(sent: Any) -> RateChanges:
    """Read changes of the rates; the rates themselves are read within the sheet they make.

    Raises ``Refused`` with every fault found.
    """
    try:
        return _read(RateChanges, sent, {}, "invalid-request")
    except Refused as refused:
        raise Refused(refused.type, (*refused.faults, *_faults_of_rates(sent))) from None


class _AnyCode(frozenset[str]):
    """Has every code: which of them there are says the sheet that the changes make."""

    def __contains__(self, _: object) -> bool:
        return True


def _faults_of_rates(sent: Any) -> Iterator[Fault]:
    """Find what is wrong with rates alone, where changes are refused and make no sheet."""
    changes = sent.get("changes") if isinstance(sent, dict) else None
    codes: Codes = {kind: _AnyCode() for kind in KINDS}
    for n, change in enumerate(changes[:MOST_CHANGES] if isinstance(changes, list) else ()):
        if not isinstance(change, dict) or change.get("value") is None or "remove" in change:
            continue
        kind = change.get("kind")
        if not isinstance(kind, str) or kind not in KINDS:
            continue
        reading = Reading([], codes)
        reader_of(RateOverrides)({kind: {"rate": change["value"]}}, (), reading)
        for fault in reading.faults:
            within = (fault.pointer or "").removeprefix(pointer(kind, "rate"))
            yield Fault(pointer("changes", n, "value") + within, fault.detail)


def read_workload(sent: Any, sheet: RateSheet | None) -> Workload:
    """Read a workload of the machines of a sheet. Raises ``Refused`` with every fault found."""
    return _read(Workload, sent, codes_of(sheet), "invalid-request")


def read_listed_request(sent: Any) -> ListedRequest:
    """Read a request for a listed product, alone or one of many (with a ``reference``).

    Raises ``Refused`` with every fault found.
    """
    into = ListedItem if isinstance(sent, dict) and "reference" in sent else ListedRequest
    return _read(into, sent, {}, "invalid-request")


def read_measured_request(
    sent: Any, sheet: RateSheet | None, *, names_codes: bool = True
) -> MeasuredRequest:
    """Read a request for a measured file, alone or one of many (with a ``reference``).

    Raises ``Refused`` with every fault found.
    """
    into = MeasuredItem if isinstance(sent, dict) and "reference" in sent else MeasuredRequest
    return _read(into, sent, _codes_for(sent, sheet), "invalid-request", names_codes=names_codes)


def read_repricing(sent: Any) -> RepricingRequest:
    """Read what is to be priced anew. Raises ``Refused`` with every fault found."""
    return _read(RepricingRequest, sent, {}, "invalid-request")


def read_apply(sent: Any) -> ApplyRequest:
    """Read which prices are to hold. Raises ``Refused`` with every fault found."""
    return _read(ApplyRequest, sent, {}, "invalid-request")


def read_seal_shown(sent: Any) -> SealShown:
    """Read a seal that somebody shows. Raises ``Refused`` with every fault found."""
    return _read(SealShown, sent, {}, "invalid-request")


def entry_reader(into: type[T], sheet: RateSheet) -> Callable[[Any], T]:
    """Make the reader of products or listings, whose codes must be those of a sheet.

    It raises ``Refused`` with every fault found.
    """
    codes = {kind: frozenset(codes) for kind, codes in codes_of(sheet).items()}
    return lambda sent: _read(into, sent, codes, "invalid-request")


def read_sheet(sent: Any) -> RateSheet:
    """Read a rate sheet; the codes that it refers to must be its own.

    Raises ``Refused`` with every fault found.
    """
    return _read(RateSheet, sent, codes_of(sent), "invalid-rates")


def codes_of(sheet: Any) -> Codes:
    """List the codes of each kind in a sheet, read or as sent."""
    if isinstance(sheet, RateSheet):
        kinds = {kind: getattr(sheet, kind) for kind in KINDS}
    else:
        kinds = {kind: sheet.get(kind) if isinstance(sheet, dict) else None for kind in KINDS}
    return {kind: codes if isinstance(codes, dict) else () for kind, codes in kinds.items()}


def _read(into: type[T], sent: Any, codes: Codes, refusal: str, *, names_codes: bool = True) -> T:
    reading = Reading([], codes, names_codes)
    value = reader_of(into)(sent, (), reading)
    if reading.faults:
        raise Refused(refusal, tuple(reading.faults))
    assert isinstance(value, into)
    return value

"""From a quote request, as it was sent, to its answer in the cost view."""

from datetime import date
from typing import Any, NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract import answer
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.answer.lead_time import with_lead_time
from gramhour_service.answer.told_break import told_break
from gramhour_service.calculation.arithmetic import (
    CannotBePriced,
    costing_arithmetic,
)
from gramhour_service.calculation.breaks import Break, FlaggedBreak, quote
from gramhour_service.calculation.rules import VERSION
from gramhour_service.resolve.days import end_of_validity
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.members import defaults_of
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import Resolved, resolve


def answer_quote(
    sent: Any,
    sheet: RateSheet | None = None,
    *,
    revision: int | UnsetType = UNSET,
    on: date | UnsetType = UNSET,
    outside: Outside | None = None,
    explain: bool = False,
) -> answer.Quote:
    """Answer a quote request given as plain values (of JSON or TOML), numbers exact.

    ``sheet`` is a sound rate sheet, for requests without their own ``rates``: the stored one as
    known at ``revision``. ``on`` is today in the shop, if the quote is to say until when it holds;
    a day that the request names goes before it. ``outside`` is the moment and the workload then,
    for the lead time of a request that does not name its own. Raises ``Refused`` with every fault
    found, or with why no price can be given.
    """
    return answer_request(
        read_request(sent, sheet),
        sheet,
        revision=revision,
        on=on,
        outside=outside,
        explain=explain,
    )


def answer_request(  # noqa: PLR0913 - what a quote depends on, each by its name
    request: QuoteRequest,
    sheet: RateSheet | None,
    *,
    revision: int | UnsetType = UNSET,
    on: date | UnsetType = UNSET,
    kept: Kept | None = None,
    outside: Outside | None = None,
    explain: bool = False,
    own: OwnPart | None = None,
) -> answer.Quote:
    """Answer a quote request that was read with the codes of ``sheet``; see ``answer_quote``.

    ``kept`` has what was resolved of ``sheet`` before, and gets more. ``own`` is the measured part
    that the product was made of, where it was made of one.
    """
    try:
        with costing_arithmetic():
            resolved = resolve(request, sheet, kept=kept, explain=explain, own=own)
            figures = _figures_once(resolved, explain=explain)
            told = with_lead_time(
                _answer(resolved, figures),
                request,
                resolved,
                figures.order,
                outside,
                kept,
                is_measured=own is not None,
            )
    except CannotBePriced as error:
        raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None
    day = on if request.rates_on is UNSET else request.rates_on
    return told if day is UNSET else _dated(told, request, resolved.sheet, revision, day)


def _dated(
    told: answer.Quote,
    request: QuoteRequest,
    sheet: RateSheet,
    revision: int | UnsetType,
    on: date,
) -> answer.Quote:
    """Add which rates of which day were used, and until when the quote holds."""
    default: int = defaults_of(QuoteRequest)["valid_days"]
    days = default if request.valid_days is UNSET else request.valid_days
    return replace(
        told,
        rates_revision=revision if request.rates is UNSET else UNSET,
        rates_on=on,
        valid_until=end_of_validity(on, days, sheet),
    )


class _Figures(NamedTuple):
    """The figures of an answer, and the order of the asked quantity that they tell."""

    order: Break
    at_quantity: answer.Break
    breaks: tuple[answer.Break, ...]


def _answer(resolved: Resolved, figures: _Figures) -> answer.Quote:
    return answer.Quote(
        currency=resolved.sheet.currency,
        rules=VERSION,
        at_quantity=figures.at_quantity,
        breaks=list(figures.breaks),
        basis=list(resolved.basis),
        cautions=list(resolved.cautions),
    )


def _figures_once(resolved: Resolved, *, explain: bool) -> _Figures:
    """Price a job and tell its figures; who asks the same again is told the same."""
    job = resolved.job
    asked = job.quantity, job.breaks, job.aim, job.discount_share
    figures: _Figures = resolved.orders.told.of(asked, lambda: _figures(resolved, explain=explain))
    return figures


def _figures(resolved: Resolved, *, explain: bool) -> _Figures:
    priced = quote(resolved.job, resolved.orders)
    at_quantity, *breaks = (
        _told_once(resolved, each, explain=explain) for each in (priced.at_quantity, *priced.breaks)
    )
    return _Figures(priced.at_quantity.priced, at_quantity, tuple(breaks))


def _told_once(resolved: Resolved, flagged: FlaggedBreak, *, explain: bool) -> answer.Break:
    """Tell a break; who asks for it among other breaks is told the same, but for its flags."""
    job = resolved.job
    asked = flagged.priced.quantity, job.aim, job.discount_share, flagged.flags
    told: answer.Break = resolved.orders.told.of(
        asked, lambda: told_break(flagged, job.rates.minor_digits, explain=explain)
    )
    return told

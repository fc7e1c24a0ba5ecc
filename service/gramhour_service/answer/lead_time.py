"""Tells an order's lead time, or why there is none: what cannot be scheduled fails no price."""

from collections.abc import Callable
from datetime import date, tzinfo
from decimal import Decimal

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract import answer
from gramhour.contract import lead_time as contract
from gramhour.contract.problem import pointer
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.arithmetic import as_percentage
from gramhour_service.calculation.breaks import Quote
from gramhour_service.calculation.lead_time.ready import lead_time
from gramhour_service.calculation.lead_time.terms import (
    SECONDS_A_MINUTE,
    CannotBeScheduled,
    LeadTime,
    MachinePlan,
    PlannedBuilds,
)
from gramhour_service.resolve.lead_time import Outside, ResolvedTerms, resolve_terms
from gramhour_service.resolve.measured import MEASUREMENT
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import Resolved
from gramhour_service.resolve.staffed_days import told_moment

Sent = Callable[[int], str]
"""Says where what is printed was sent, by the number of the piece."""

NOBODY_PRESENT = (
    "This date relies on builds that run with nobody present. Printers can catch fire: follow "
    "their makers' instructions, your insurer's terms and local fire rules, and have a qualified "
    "person check the place."
)


def with_lead_time(
    told: answer.Quote,
    request: QuoteRequest,
    resolved: Resolved,
    priced: Quote,
    outside: Outside | None,
    kept: Kept | None,
    *,
    is_measured: bool,
) -> answer.Quote:
    """Add the asked quantity's lead time to a quote, where the sheet has staffed hours.

    ``is_measured`` says that the one piece is a measured part: no piece was sent. Call it within
    ``costing_arithmetic``.
    """
    if resolved.sheet.staffed_hours is UNSET:
        return told
    at_quantity = priced.at_quantity.priced
    found = resolve_terms(request, resolved, at_quantity.costs, outside, kept)
    if found is None:
        return told
    basis = [*told.basis, *found.basis]
    try:
        ready = lead_time(resolved.job.product, at_quantity, found.terms)
    except CannotBeScheduled as error:
        return replace(told, lead_time=None, no_lead_time=str(error), basis=basis)
    return replace(told, lead_time=_told(ready, found, is_measured=is_measured), basis=basis)


def _told(ready: LeadTime, found: ResolvedTerms, *, is_measured: bool) -> contract.LeadTime:
    zone = found.zone

    def sent(piece: int) -> str:
        return MEASUREMENT if is_measured else pointer("product", "pieces", piece - 1)

    return contract.LeadTime(
        ready_on=date.fromordinal(ready.ready_on),
        ready_at=told_moment(ready.ready_at, zone),
        relies_on_unattended=ready.relies_on_unattended,
        caution=NOBODY_PRESENT if ready.relies_on_unattended else UNSET,
        probability_pct=Decimal(as_percentage(ready.probability * 100)),
        machines=[_machine(plan, zone, sent) for plan in ready.machines],
        from_=told_moment(found.terms.moment, zone),
        workload=found.workload,
    )


def _machine(plan: MachinePlan, zone: tzinfo, sent: Sent) -> contract.MachinePlan:
    return contract.MachinePlan(
        machine=plan.machine,
        number=plan.number,
        free_from=told_moment(plan.free_from, zone),
        builds=[_builds(builds, zone, sent) for builds in plan.builds],
        ends_at=told_moment(plan.ends_at, zone),
    )


def _builds(builds: PlannedBuilds, zone: tzinfo, sent: Sent) -> contract.PlannedBuilds:
    return contract.PlannedBuilds(
        piece=sent(builds.piece),
        build_min=builds.seconds / SECONDS_A_MINUTE,
        starts_at=[told_moment(moment, zone) for moment in builds.starts_at],
        unattended=builds.unattended,
    )

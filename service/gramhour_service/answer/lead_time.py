"""Tells an order's lead time, or why there is none: what cannot be scheduled fails no price."""

from collections.abc import Callable
from datetime import date, tzinfo
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract import answer
from gramhour.contract import lead_time as contract
from gramhour.contract.problem import pointer
from gramhour.contract.request import QuoteRequest
from gramhour.contract.workload import Workload
from gramhour_service.calculation.arithmetic import as_percentage
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.lead_time.ready import lead_time
from gramhour_service.calculation.lead_time.terms import (
    SECONDS_A_MINUTE,
    CannotBeScheduled,
    LeadTime,
    MachinePlan,
    PlannedBuilds,
)
from gramhour_service.resolve.lead_time import Begins, Outside, ResolvedTerms, begins, resolve_terms
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


MOST_KEPT = 100
"""Starts of builds that a told lead time may list to be kept for the next who asks."""


class _Found(NamedTuple):
    """A lead time as it is told, or why there is none, and what it begins with."""

    beginning: Begins
    told: contract.LeadTime | None
    why_not: str | UnsetType
    basis: tuple[answer.Basis, ...]


def with_lead_time(
    told: answer.Quote,
    request: QuoteRequest,
    resolved: Resolved,
    order: Break,
    outside: Outside | None,
    kept: Kept | None,
    *,
    is_measured: bool,
) -> answer.Quote:
    """Add the lead time of an order, the asked quantity's, where the sheet has staffed hours.

    ``is_measured`` says that the one piece is a measured part: no piece was sent. Who asks again
    in the same second, behind the same workload, is told the same. Call it within
    ``costing_arithmetic``.
    """
    beginning = begins(request, resolved.sheet, outside)
    if beginning is None:
        return told
    known = resolved.orders.told
    key = "ready", order.quantity
    found: _Found | None = known.found(key)
    if found is None or found.beginning != beginning:
        terms = resolve_terms(request, resolved, order.costs, beginning, kept)
        found = _Found(beginning, *_scheduled(resolved, order, terms, is_measured=is_measured))
        if _starts(found) <= MOST_KEPT:
            known.keep(key, found)
    return replace(
        told,
        lead_time=_behind(beginning.workload, found.told),
        no_lead_time=found.why_not,
        basis=[*told.basis, *found.basis],
    )


def _behind(workload: Workload, ready: contract.LeadTime | None) -> contract.LeadTime | None:
    """Tell the workload as this request wrote it: 2 hours or 2.0, whoever asked before."""
    return None if ready is None else replace(ready, workload=workload)


def _scheduled(
    resolved: Resolved, order: Break, by: ResolvedTerms, *, is_measured: bool
) -> tuple[contract.LeadTime | None, str | UnsetType, tuple[answer.Basis, ...]]:
    try:
        ready = lead_time(resolved.job.product, order, by.terms)
    except CannotBeScheduled as error:
        return None, str(error), by.basis
    return _told(ready, by, is_measured=is_measured), UNSET, by.basis


def _starts(found: _Found) -> int:
    plans = () if found.told is None else found.told.machines
    return sum(len(builds.starts_at) for plan in plans for builds in plan.builds)


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

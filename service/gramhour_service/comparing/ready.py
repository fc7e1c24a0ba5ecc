"""When an order is ready that is made in the way of an alternative."""

from datetime import date
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.lead_time.ready import lead_time
from gramhour_service.calculation.lead_time.terms import CannotBeScheduled
from gramhour_service.resolve.lead_time import Outside, begins, resolve_terms
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import Resolved


class Scheduling(NamedTuple):
    """What an alternative's ready dates depend on, as those of its quote would."""

    request: QuoteRequest
    resolved: Resolved
    outside: Outside
    kept: Kept | None

    @property
    def is_staffed(self) -> bool:
        """Say whether the sheet has staffed hours to schedule anything in."""
        return self.resolved.sheet.staffed_hours is not UNSET


def ready_on(scheduling: Scheduling, each: Break) -> date | UnsetType | None:
    """Say on which day an order is ready; none where it cannot be scheduled.

    Absent without staffed hours. Call it within ``costing_arithmetic``.
    """
    request, resolved, outside, kept = scheduling
    beginning = begins(request, resolved.sheet, outside)
    if beginning is None:
        return UNSET
    terms = resolve_terms(request, resolved, each.costs, beginning, kept)
    try:
        ready = lead_time(resolved.job.product, each, terms.terms)
    except CannotBeScheduled:
        return None
    return date.fromordinal(ready.ready_on)

"""What a lead time depends on: hours, machines, deliveries and the promise, from sheet and request.

Read only where the sheet has staffed hours, so that a quote without them costs nothing more.
"""

from datetime import datetime, tzinfo
from decimal import Decimal
from typing import NamedTuple, TypeVar

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Basis
from gramhour.contract.problem import pointer
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour.contract.workload import Workload
from gramhour_service.calculation.costs import Costs
from gramhour_service.calculation.job import Product
from gramhour_service.calculation.lead_time.terms import (
    Calendar,
    MachineTerms,
    PackDelivery,
    Terms,
)
from gramhour_service.resolve.days import time_zone_of
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.rates import Kept, Rates
from gramhour_service.resolve.request import Resolved
from gramhour_service.resolve.staffed_days import calendar_of, whole_second

T = TypeVar("T")

NO_QUEUES = Workload(machines={})


class Outside(NamedTuple):
    """What a quote depends on beside request and rates: the moment, and what machines have to do.

    ``from`` and ``workload`` of a request stand in their place.
    """

    moment: datetime
    workload: Workload = NO_QUEUES


class ResolvedTerms(NamedTuple):
    """The terms of a lead time, and what its answer says beside it."""

    terms: Terms
    zone: tzinfo
    workload: Workload
    basis: tuple[Basis, ...]


class Begins(NamedTuple):
    """The moment, in whole seconds, that a lead time counts from, and the workload then."""

    moment: int
    workload: Workload


def begins(request: QuoteRequest, sheet: RateSheet, outside: Outside | None) -> Begins | None:
    """Say what a request's lead time begins with; none without staffed hours, or a moment.

    Of a stored workload nothing holds for a request that brings its own rates.
    """
    if sheet.staffed_hours is UNSET:
        return None
    moment = _given(request.from_, None if outside is None else outside.moment)
    if moment is None:
        return None
    own = request.rates is not UNSET
    workload = _given(request.workload, NO_QUEUES if own or outside is None else outside.workload)
    assert workload is not None
    return Begins(whole_second(moment), workload)


def resolve_terms(
    request: QuoteRequest,
    resolved: Resolved,
    costs: Costs,
    beginning: Begins,
    kept: Kept | None,
) -> ResolvedTerms:
    """Resolve the terms of a lead time.

    ``kept`` is that of the sheet, if the request has no rates of its own. Raises nothing: the
    sheet is sound.
    """
    sheet = resolved.sheet
    notes = Notes(explain=False)
    own = request.rates is not UNSET
    rates = Rates(sheet, notes, request.rate_overrides, None if own else kept)
    channel = rates.also("lead time", "channels", request.channel, _promise)
    bought = {each.component.code for each in costs.purchases}
    packs = {each.material.code for each in costs.packs_bought}
    terms = Terms(
        calendar=_calendar(rates),
        moment=beginning.moment,
        machines=_machines(resolved.job.product, rates, beginning.workload),
        component_deliveries={
            code: rates.also("delivery", "components", code, _deliveries) for code in bought
        },
        material_days={code: rates.also("delivery", "materials", code, _days) for code in packs},
        promise_share=channel[0],
        dispatch_days=channel[1],
    )
    return ResolvedTerms(terms, time_zone_of(sheet), beginning.workload, tuple(notes.basis))


def _given(value: T | UnsetType, otherwise: T | None) -> T | None:
    return otherwise if isinstance(value, UnsetType) else value


def _calendar(rates: Rates) -> Calendar:
    return rates.once_for_the_shop("calendar", lambda: calendar_of(rates.sheet))


def _machines(product: Product, rates: Rates, workload: Workload) -> dict[str, MachineTerms]:
    machines = {}
    for code in {piece.machine.code: None for piece in product.pieces}:
        count, is_unattended = rates.also("lead time", "machines", code, _machine)
        queue = workload.machines.get(code)
        queues = () if queue is None else tuple(queue.queue_h)
        machines[code] = MachineTerms(count, is_unattended, queues)
    return machines


def _machine(members: Members) -> tuple[int, bool]:
    return members.whole("count"), _flag(members, "unattended")


def _promise(members: Members) -> tuple[Decimal, int]:
    return members.share("promise_pct"), members.whole("dispatch_working_days")


def _days(members: Members) -> int:
    return members.part("offer").whole("delivery_working_days")


def _deliveries(members: Members) -> tuple[PackDelivery, ...]:
    return tuple(
        PackDelivery(
            offer.whole("pack_quantity"),
            offer.amount("price"),
            offer.whole("from_packs"),
            offer.whole("delivery_working_days"),
        )
        for offer in members.parts("offers")
    )


def _flag(members: Members, name: str) -> bool:
    """Read a member that is true or false; false if it is not given."""
    if members.has(name):
        return bool(getattr(members.struct, name))
    place = pointer(*members.place, name)
    members.notes.basis.append(Basis(pointer=place, basis="default", value="false"))
    return False

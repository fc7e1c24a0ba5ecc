"""The lead time of an order: from its builds and its people's minutes to the day it is ready."""

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import CannotBePriced, ceiling
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.build import Build
from gramhour_service.calculation.builds import ProductBuilds, part_build, pieces_needed
from gramhour_service.calculation.job import Piece, Product, Work
from gramhour_service.calculation.lead_time.arrivals import (
    arrival,
    days_by_material,
    days_of_purchases,
)
from gramhour_service.calculation.lead_time.machines import Wanted, plans_of
from gramhour_service.calculation.lead_time.staffed import OutOfSight, Staffed
from gramhour_service.calculation.lead_time.starts import Batch, Starts, starts_needed
from gramhour_service.calculation.lead_time.terms import (
    MOST_DAYS,
    CannotBeScheduled,
    LeadTime,
    MachinePlan,
    Terms,
    seconds_of,
)
from gramhour_service.calculation.learning import learning_factor

LATER_THAN_ANYBODY_LOOKS = f"it would be ready later than the {MOST_DAYS} days that are looked at"


class _Ended(NamedTuple):
    """The moment the last build ends, and the units that it completes."""

    at: int
    units: int


def lead_time(product: Product, order: Break, terms: Terms) -> LeadTime:
    """Say when an order is ready. Call it within ``costing_arithmetic``.

    What the order buys, and its people's minutes, are read where it was priced. Raises
    ``CannotBeScheduled``.
    """
    try:
        return _lead_time(product, order, terms)
    except OutOfSight:
        raise CannotBeScheduled(LATER_THAN_ANYBODY_LOOKS) from None
    except CannotBePriced as error:
        raise CannotBeScheduled(str(error)) from None


def _lead_time(product: Product, order: Break, terms: Terms) -> LeadTime:
    staffed = Staffed(terms.calendar, terms.moment)
    units = ceiling(order.quantity * (1 + Decimal(product.remade)))
    (plan,) = order.costs.plans
    batches = tuple([_batch(plan.made, full, units) for full in plan.made.full])
    starts = starts_needed(batches, terms.promise_share)
    days = days_by_material(order.costs.packs_bought, terms)
    plans = _plans(product, starts, days, terms, staffed)
    ready_at = _ready(product, order, terms, staffed, _last(product, order.quantity, plans))
    last = ready_at if staffed.is_at_work(ready_at) else ready_at - 1
    return LeadTime(
        ready_at=ready_at,
        ready_on=staffed.working_day_after(terms.calendar.day_of(last), terms.dispatch_days),
        relies_on_unattended=_relies_on_unattended(plans, terms, staffed),
        probability=starts.probability,
        machines=tuple(plans),
    )


def build_seconds(piece: Piece) -> int:
    """A build lasts its machine's warm-up and the printing of a full plate."""
    return seconds_of(Decimal(piece.machine.warm_up_min) + Decimal(piece.print_min))


def _batch(made: ProductBuilds, full: Build, units: int) -> Batch:
    """A piece takes the builds of all units, those made again too, at its fullest one's chance."""
    piece = full.piece
    pieces = pieces_needed(units, piece.count)
    is_full = pieces >= piece.pieces_per_build
    fullest = full if is_full else part_build(made, full, pieces)
    return Batch(
        builds=-(-pieces // piece.pieces_per_build),
        chance=Decimal(fullest.fares.good),
        seconds=build_seconds(piece),
    )


def _plans(
    product: Product, starts: Starts, days: Mapping[str, int], terms: Terms, staffed: Staffed
) -> list[MachinePlan]:
    by_machine: dict[str, list[Wanted]] = {}
    for piece, number in zip(product.pieces, starts.numbers, strict=True):
        waits = max(days.get(feed.material.code, 0) for feed in piece.feeds)
        wanted = Wanted(
            piece=piece.number,
            machine=piece.machine.code,
            seconds=build_seconds(piece),
            starts=number,
            not_before=arrival(waits, terms, staffed),
        )
        by_machine.setdefault(piece.machine.code, []).append(wanted)
    return [
        plan
        for code, wanted_there in by_machine.items()
        for plan in plans_of(code, terms.machines[code], wanted_there, staffed, terms.moment)
    ]


def _last(product: Product, quantity: int, plans: list[MachinePlan]) -> _Ended | None:
    """The last build completes the units that its pieces are for; of several, the most units."""
    if not plans:
        return None
    at = max(plan.ends_at for plan in plans)
    last = [product.pieces[p.builds[-1].piece - 1] for p in plans if p.ends_at == at]
    most = max(-(-piece.pieces_per_build // piece.count) for piece in last)
    return _Ended(at, min(most, quantity))


def _ready(
    product: Product, order: Break, terms: Terms, staffed: Staffed, ended: _Ended | None
) -> int:
    """Ready is the latest of what must come one after the other, in staffed time.

    The last build and the work on its units; all people's minutes from now on; and where parts
    are waited for, the work on all units after that.
    """
    work, quantity = product.work, order.quantity
    ready = staffed.after(terms.moment, seconds_of(Decimal(order.use.labour_min)))
    if ended is not None:
        ready = max(ready, staffed.after(ended.at, _unit_seconds(work, quantity, ended.units)))
    if days := days_of_purchases(order.costs.purchases, terms):
        there = arrival(days, terms, staffed)
        all_units = _unit_seconds(work, quantity, quantity, Decimal(product.remade))
        ready = max(ready, staffed.after(there, all_units))
    return ready


def _unit_seconds(work: Work, quantity: int, last: int, remade: Decimal = Decimal(0)) -> int:
    """The order's last units take their places on the learning curve."""
    before = work.made_before + quantity - last
    factor = learning_factor(last, work.learning_pct, work.learning_until, before)
    return seconds_of(Decimal(work.unit_min) * Decimal(factor) * (1 + remade))


def _relies_on_unattended(plans: list[MachinePlan], terms: Terms, staffed: Staffed) -> bool:
    """Nobody is there during some build, or during a queue on a machine that runs unattended."""
    return any(
        any(each.unattended for each in plan.builds)
        or (
            terms.machines[plan.machine].is_unattended
            and not staffed.is_watched(terms.moment, plan.free_from)
        )
        for plan in plans
    )

"""What each machine does when: longest builds first, each on the machine that is free earliest."""

from collections.abc import Iterable
from heapq import heapify, heapreplace
from typing import NamedTuple

from gramhour_service.calculation.lead_time.staffed import OutOfSight, Staffed
from gramhour_service.calculation.lead_time.terms import (
    MOST_DAYS,
    SECONDS_A_MINUTE,
    SECONDS_AN_HOUR,
    CannotBeScheduled,
    MachinePlan,
    MachineTerms,
    PlannedBuilds,
    seconds_of,
)


class Wanted(NamedTuple):
    """Starts of one piece's builds, none of them before its feedstock is there."""

    piece: int
    machine: str
    seconds: int
    starts: int
    not_before: int


def free_moments(code: str, terms: MachineTerms, staffed: Staffed, moment: int) -> list[int]:
    """Each machine is busy for its queue: wall time where it runs unattended, else staffed time.

    Raises ``CannotBeScheduled``.
    """
    if len(terms.queues) > terms.how_many:
        raise CannotBeScheduled(
            f"the workload has {len(terms.queues)} queues for the machine '{code}', and the sheet "
            f"{terms.how_many} such machines: put the workload as it is now"
        )
    queues = [seconds_of(hours * SECONDS_AN_HOUR / SECONDS_A_MINUTE) for hours in terms.queues]
    busy = [
        moment
        if not seconds
        else moment + seconds
        if terms.is_unattended
        else staffed.after(moment, seconds)
        for seconds in queues
    ]
    return busy + [moment] * (terms.how_many - len(busy))


def plans_of(
    code: str, terms: MachineTerms, wanted: Iterable[Wanted], staffed: Staffed, moment: int
) -> list[MachinePlan]:
    """Plan the builds of one machine code; of equally long ones those of the first piece first.

    A build starts where somebody is there; unless the machine runs unattended, somebody must be
    there until it ends. Machines that stay idle are not told. Raises ``CannotBeScheduled``.
    """
    free = free_moments(code, terms, staffed, moment)
    ranked = [(at, number) for number, at in enumerate(free)]
    heapify(ranked)
    planned: list[list[PlannedBuilds]] = [[] for _ in free]
    for each in sorted(wanted, key=lambda each: -each.seconds):
        for number, builds in _planned(each, ranked, terms, staffed).items():
            planned[number].append(builds)
    ends = {number: at for at, number in ranked}
    return [
        MachinePlan(code, number + 1, free[number], tuple(builds), ends[number])
        for number, builds in enumerate(planned)
        if builds
    ]


def _planned(
    wanted: Wanted, ranked: list[tuple[int, int]], terms: MachineTerms, staffed: Staffed
) -> dict[int, PlannedBuilds]:
    """Plan the builds of one piece by machine, each on the one that is free earliest.

    ``ranked`` is a heap of when each machine is free, and is brought up to date.
    """
    begun: dict[int, list[int]] = {}
    alone: dict[int, int] = {}
    seconds = wanted.seconds
    watched = 0 if terms.is_unattended else seconds
    for _ in range(wanted.starts):
        at, number = ranked[0]
        try:
            start, stretch = staffed.next_fit(max(at, wanted.not_before), watched)
        except OutOfSight:
            raise _never_starts(wanted, terms) from None
        end = start + seconds
        begun.setdefault(number, []).append(start)
        if terms.is_unattended and not staffed.reaches(stretch, end):
            alone[number] = alone.get(number, 0) + 1
        heapreplace(ranked, (end, number))
    return {
        number: PlannedBuilds(wanted.piece, seconds, tuple(starts), alone.get(number, 0))
        for number, starts in begun.items()
    }


def _never_starts(wanted: Wanted, terms: MachineTerms) -> CannotBeScheduled:
    minutes = wanted.seconds / SECONDS_A_MINUTE
    alone = "runs on unattended" if terms.is_unattended else "needs somebody there all the time"
    return CannotBeScheduled(
        f"a build of piece {wanted.piece}, {minutes:g} minutes on the machine "
        f"'{wanted.machine}', {alone}, and no start for it is found in {MOST_DAYS} days: look "
        "at staffed_hours, closed_days, the workload, and whether it may run unattended"
    )

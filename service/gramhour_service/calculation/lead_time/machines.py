"""What each machine does when: longest builds first, each on the machine that is free earliest."""

from collections.abc import Iterable, Sequence
from heapq import heapify, heapreplace
from itertools import groupby
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


class _Done(NamedTuple):
    """One build, as it is planned."""

    piece: int
    start: int
    end: int
    is_unattended: bool


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
    done: list[list[_Done]] = [[] for _ in free]
    ranked = [(at, number) for number, at in enumerate(free)]
    heapify(ranked)
    for each in sorted(wanted, key=lambda each: -each.seconds):
        for _ in range(each.starts):
            at, number = ranked[0]
            start, stretch = _start(each, max(at, each.not_before), terms, staffed)
            end = start + each.seconds
            is_alone = terms.is_unattended and not staffed.reaches(stretch, end)
            done[number].append(_Done(each.piece, start, end, is_alone))
            heapreplace(ranked, (end, number))
    return [
        MachinePlan(code, number + 1, free[number], _grouped(builds), builds[-1].end)
        for number, builds in enumerate(done)
        if builds
    ]


def _start(wanted: Wanted, moment: int, terms: MachineTerms, staffed: Staffed) -> tuple[int, int]:
    try:
        if terms.is_unattended:
            return staffed.next_start(moment)
        return staffed.next_fit(moment, wanted.seconds)
    except OutOfSight:
        minutes = wanted.seconds / SECONDS_A_MINUTE
        alone = "runs on unattended" if terms.is_unattended else "needs somebody there all the time"
        raise CannotBeScheduled(
            f"a build of piece {wanted.piece}, {minutes:g} minutes on the machine "
            f"'{wanted.machine}', {alone}, and no start for it is found in {MOST_DAYS} days: look "
            "at staffed_hours, closed_days, the workload, and whether it may run unattended"
        ) from None


def _grouped(builds: Sequence[_Done]) -> tuple[PlannedBuilds, ...]:
    """Tell equal builds that follow each other together."""
    grouped = []
    for piece, group in groupby(builds, key=lambda build: build.piece):
        same = list(group)
        grouped.append(
            PlannedBuilds(
                piece=piece,
                seconds=same[0].end - same[0].start,
                starts_at=tuple(build.start for build in same),
                unattended=sum(build.is_unattended for build in same),
            )
        )
    return tuple(grouped)

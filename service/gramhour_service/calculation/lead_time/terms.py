"""What a lead time is computed from beside the job, and what comes of it: plain values."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ceiling

MOST_DAYS = 1_100
"""How far ahead is looked, in days: about three years. What ends later is not promised."""
MOST_STARTS = 2_000
"""Starts of builds that are scheduled for one order."""
SECONDS_A_MINUTE = 60
SECONDS_AN_HOUR = 3_600
SECONDS_A_DAY = 86_400

Stretches = tuple[tuple[int, int], ...]
"""Staffed time of a day, in order: each from a moment until another."""


class CannotBeScheduled(Exception):
    """The order has no ready date; the text says why, in words for the shop."""


class Calendar(NamedTuple):
    """The shop's days, by number, and its clock; the three agree with each other.

    ``staffed_on`` a day gives its stretches; ``day_of`` a moment, the day; ``moment_at`` a day
    and seconds of its clock, the moment.
    """

    staffed_on: Callable[[int], Stretches]
    day_of: Callable[[int], int]
    clock_of: Callable[[int], int]
    moment_at: Callable[[int, int], int]


class MachineTerms(NamedTuple):
    """So many equal machines of one code. ``queues`` are hours, one for each that is not free."""

    how_many: int
    is_unattended: bool
    queues: tuple[Decimal, ...]


class PackDelivery(NamedTuple):
    """An offer of packs: what it costs from how many on, and the working days to its arrival."""

    pack_quantity: int
    price: Decimal
    from_packs: int
    days: int


class Terms(NamedTuple):
    """What a lead time depends on beside the job; machines and parts by their codes."""

    calendar: Calendar
    moment: int
    machines: Mapping[str, MachineTerms]
    component_deliveries: Mapping[str, tuple[PackDelivery, ...]]
    material_days: Mapping[str, int]
    promise_share: Decimal
    dispatch_days: int


class PlannedBuilds(NamedTuple):
    """Equal builds of a piece on one machine; ``unattended`` of them run with nobody there."""

    piece: int
    seconds: int
    starts_at: tuple[int, ...]
    unattended: int


class MachinePlan(NamedTuple):
    """What one of the equal machines of a code does, after its queue."""

    machine: str
    number: int
    free_from: int
    builds: tuple[PlannedBuilds, ...]
    ends_at: int


class LeadTime(NamedTuple):
    """When an order is ready: the moment in the shop, and the number of the day of dispatch."""

    ready_at: int
    ready_on: int
    relies_on_unattended: bool
    probability: Decimal
    machines: tuple[MachinePlan, ...]


@lru_cache(maxsize=4096)
def seconds_of(minutes: Decimal) -> int:
    """A duration is rounded up to whole seconds, after 6 decimals of a second.

    Raises ``CannotBeScheduled`` for one that is longer than anybody looks ahead.
    """
    if minutes * SECONDS_A_MINUTE > MOST_DAYS * SECONDS_A_DAY:
        raise CannotBeScheduled(
            f"something takes {minutes:.0f} minutes, and {MOST_DAYS} days ahead are looked at"
        )
    return ceiling(minutes * SECONDS_A_MINUTE)

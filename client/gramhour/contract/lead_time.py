"""When an order is ready, and what the machines do until then."""

from datetime import date
from decimal import Decimal

from msgspec import UNSET, UnsetType, field

from gramhour.contract.members import Answered, Moment
from gramhour.contract.workload import Workload


class PlannedBuilds(Answered, frozen=True, kw_only=True):
    """Equal builds that a machine does one after the other, spare starts included.

    ``piece`` is the pointer of what is printed: a piece of the product, or ``/measurement``. Each
    lasts ``build_min``, warm-up included; ``unattended`` of them run with nobody present for a
    while.
    """

    piece: str
    build_min: float
    starts_at: list[Moment]
    unattended: int


class MachinePlan(Answered, frozen=True, kw_only=True):
    """What one machine does: free from its queue, it does these builds.

    ``number`` counts the equal machines of one code from 1.
    """

    machine: str
    number: int
    free_from: Moment
    builds: list[PlannedBuilds]
    ends_at: Moment


class LeadTime(Answered, frozen=True, kw_only=True):
    """When the asked quantity is ready, from an instant on and beside a workload.

    Both sent again give the same. ``ready_at`` is in the shop, ``ready_on`` has the channel's
    dispatch in it. ``probability_pct`` is the chance that so many starts are enough.
    """

    ready_on: date
    ready_at: Moment
    relies_on_unattended: bool
    caution: str | UnsetType = UNSET
    probability_pct: Decimal
    machines: list[MachinePlan]
    from_: Moment = field(name="from")
    workload: Workload


class PriceLeadTime(Answered, frozen=True, kw_only=True):
    """When the asked quantity is ready, as a buyer sees it."""

    ready_on: date

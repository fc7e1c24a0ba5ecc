"""When what is bought for an alternative has paid for itself, out of what it contributes more.

A purchase is paid back by what a unit contributes more than one made in the first alternative,
sold at the same price, less what the bought printer costs to run: interest, space and
maintenance by the hour. Its depreciation is the purchase itself, spread over its life, and so is
the wear of a bought nozzle: with them in, the price would count twice.
"""

from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.comparison import Outlay
from gramhour.contract.problem import Fault
from gramhour.contract.rates import RateSheet
from gramhour_service.calculation.arithmetic import NOISE_FREE, ZERO
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.contribution import contribution
from gramhour_service.calculation.job import Job
from gramhour_service.resolve.kinds import running_rate
from gramhour_service.resolve.members import Members, Notes

UNKNOWN_DEPRECIATION = (
    "rate_per_hour of '{}' does not say how much of it is depreciation, which would count twice: "
    "give what it is built up from (replacement_price, life_years, hours_per_year, …), in "
    "rate_overrides for this comparison alone"
)


class Bought(NamedTuple):
    """What is bought: its price, and codes of what it is. ``running_rate`` is money an hour."""

    price: Decimal
    machine: str | None
    running_rate: Decimal
    nozzle: str | None


def bought_of(purchase: Outlay, sheet: RateSheet, place: str, faults: list[Fault]) -> Bought | None:
    """Resolve a purchase; ``place`` is where its machine stands."""
    nozzle = None if purchase.nozzle is UNSET else purchase.nozzle
    if purchase.machine is UNSET:
        return Bought(purchase.price, None, ZERO, nozzle)
    assert sheet.machines is not UNSET, "the reader lets only codes through that the sheet has"
    machine = Members(sheet.machines[purchase.machine], (), Notes(explain=False))
    rate = running_rate(machine)
    if rate is None:
        faults.append(Fault(place, UNKNOWN_DEPRECIATION.format(purchase.machine)))
        return None
    return Bought(purchase.price, purchase.machine, rate, nozzle)


def without_wear(job: Job, bought: Bought) -> Job:
    """Leave out the wear of a bought nozzle."""
    pieces = tuple(
        replace(piece, nozzle=replace(piece.nozzle, wear_per_g=ZERO))
        if piece.nozzle is not None and piece.nozzle.code == bought.nozzle
        else piece
        for piece in job.product.pieces
    )
    return replace(job, product=replace(job.product, pieces=pieces))


def brought_by(each: Break, bought: Bought | None = None) -> Decimal:
    """Say what an order contributes, less what the bought printer costs to run for it."""
    settled = each.priced.settled
    brings = contribution(settled.net, settled.fees.total, each.costs.variable)
    if bought is None or bought.machine is None:
        return brings
    return brings - each.use.machine_h_by.get(bought.machine, ZERO) * bought.running_rate


class Gained(NamedTuple):
    """What a purchase brings, at the unit price that both ways are compared at.

    ``gain`` is what an order contributes more, ``hours`` its machine hours saved, ``gain_per_hour``
    what an hour contributes more; all free of the noise of division.
    """

    unit_price: Decimal
    gain: Decimal
    hours: Decimal
    gain_per_hour: Decimal | None


def gained(way: Break, first: Break, bought: Bought) -> Gained:
    """Compare an order with the same one made in the first alternative, at the same price."""
    brings, brought = brought_by(way, bought), brought_by(first)
    hours, before = way.use.machine_h, first.use.machine_h
    by_hour = brings / hours - brought / before if hours and before else None
    return Gained(
        unit_price=first.priced.settled.unit_price,
        gain=(brings - brought).quantize(NOISE_FREE),
        hours=before - hours,
        gain_per_hour=None if by_hour is None else by_hour.quantize(NOISE_FREE),
    )


def hours_to_pay_back(price: Decimal, gain_per_hour: Decimal | None) -> Decimal | None:
    """Say in how many machine hours a price is paid back where all are sold; none if never."""
    return price / gain_per_hour if gain_per_hour is not None and gain_per_hour > 0 else None


def units_to_pay_back(price: Decimal, gain: Decimal, units: int) -> int | None:
    """Count the units that pay back a price, rounded up; none if an order of them gains nothing."""
    if gain <= 0:
        return None
    whole, left = divmod(price * units, gain)
    return int(whole) + (left > 0)

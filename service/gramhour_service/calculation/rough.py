"""A rough look at an order's margin over many quantities: where the least one can be.

It says which quantities to compute, and is never told. What it knows of cost it asks the rules
for, at single builds, single units and single amounts, and adds that up in binary floats: costs
add up over builds, fees are shares and sums. Every estimate comes with what all the rounding in
between can amount to; if a rule ceases to add up, the tests that compare with every quantity say
so.
"""

from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.build import Build
from gramhour_service.calculation.builds import (
    BuildPlan,
    PlannedBuild,
    ProductBuilds,
    part_build,
)
from gramhour_service.calculation.costs import making_costs
from gramhour_service.calculation.design import design_cost
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.labour import LabourMinutes, labour_minutes
from gramhour_service.calculation.learning import learning_factor
from gramhour_service.calculation.rough_orders import (
    Brings,
    Kept,
    Parcels,
    nothing_built,
)

ROUNDINGS_OF_AN_ORDER = 8
"""Of a settled order: net, tax, charged postage and five fees, each to the minor unit."""
ROUNDINGS_OF_COSTS = 0.002
"""Of 13 cost lines of 4 decimals, with the overheads on them."""


class RoughStretch(NamedTuple):
    """Orders of several quantities of a job, roughly: what each costs, and its parcels."""

    quantities: Sequence[int]
    costs: list[float]
    parcels: list[Parcels]
    brings: Brings
    minimum: float
    unit: float

    def margins(self, prices: Sequence[Decimal]) -> list[float]:
        """Estimate what the margin (of one) is at least, at each quantity and its shown price."""
        each, unit = self.brings, self.unit
        once = each.once - ROUNDINGS_OF_AN_ORDER * unit - ROUNDINGS_OF_COSTS
        told = []
        for quantity, price, cost, (sending, charged) in zip(
            self.quantities, map(float, prices), self.costs, self.parcels, strict=True
        ):
            goods = max(price * quantity, self.minimum)
            brought = once + each.unit * quantity + each.goods * goods + each.charged * charged
            profit = brought - sending - cost
            net = each.net_of_goods * goods + each.net_of_charged * charged
            told.append(profit / (net + unit if profit > 0 else max(net - unit, unit)))
        return told


class RoughCurve:
    """What orders of one product cost, roughly."""

    def __init__(self, made: ProductBuilds, kept: Kept) -> None:
        """Look at a product's builds. Call it within ``costing_arithmetic``."""
        self._made, self._kept = made, kept
        self._weights = kept.weights(made.rates)
        self._full = [self._of_build(full) for full in made.full]
        self._part: list[dict[int, float]] = [{0: 0.0} for _ in made.full]
        self._once, self._work, self._unit = self._sums()

    def over(self, job: Job, quantities: Sequence[int]) -> RoughStretch:
        """Look at several quantities of the product, as a job has it sold."""
        return RoughStretch(
            quantities=quantities,
            costs=self._costs(job, quantities),
            parcels=self._kept.parcels(job.channel, quantities),
            brings=self._kept.brings(job),
            minimum=float(job.channel.minimum_order),
            unit=10.0**-job.rates.minor_digits,
        )

    def _costs(self, job: Job, quantities: Sequence[int]) -> list[float]:
        work, weights = self._made.product.work, self._weights
        learning = (work.learning_pct, work.learning_until, work.made_before)
        costs = [
            self._once
            + self._work * _learning(quantity, *learning)
            + self._unit * quantity
            + weights.components * bought.components
            + weights.packaging * bought.packaging
            for quantity, bought in zip(
                quantities, self._kept.bought(job, self._made, quantities), strict=True
            )
        ]
        for n, build in enumerate(self._made.full):
            count, size, full = build.piece.count, build.piece.pieces_per_build, self._full[n]
            part = self._parts(n, {quantity * count % size for quantity in quantities})
            costs = [
                cost + quantity * count // size * full + part[quantity * count % size]
                for quantity, cost in zip(quantities, costs, strict=True)
            ]
        return costs

    def _parts(self, n: int, left: set[int]) -> dict[int, float]:
        """Cost the part-filled builds of a piece that hold so many."""
        part, full = self._part[n], self._made.full[n]
        for pieces in left - part.keys():
            part[pieces] = self._of_build(part_build(self._made, full, pieces))
        return part

    def _of_build(self, build: Build) -> float:
        """Cost one build with the work at it."""
        plan = BuildPlan(self._made, 0, (PlannedBuild(1, build),), 1, build.amounts)
        minutes = labour_minutes(self._made.product.work, ZERO, 0, 1)
        return self._weighted(plan, minutes)

    def _sums(self) -> tuple[float, float, float]:
        """Cost what is paid once an order, one first unit's work, and what a unit bears alike."""
        made, product, rates = self._made, self._made.product, self._made.rates
        nothing = nothing_built(made, 0)
        once = making_costs(nothing, LabourMinutes(made.once_min, ZERO, ZERO), rates)
        work = LabourMinutes(ZERO, ZERO, product.work.unit_min)
        stock = nothing_built(made, 1)
        minutes = LabourMinutes(ZERO, ZERO, ZERO)
        remade = making_costs(stock, minutes, rates).rejects
        unit = self._weights.rejects * float(remade)
        unit += self._weights.design * float(design_cost(product.design_fee, 1))
        return (
            self._weights.labour * float(once.labour_once),
            self._weighted(nothing, work),
            unit,
        )

    def _weighted(self, plan: BuildPlan, minutes: LabourMinutes) -> float:
        costs, weights = making_costs(plan, minutes, self._made.rates), self._weights
        return (
            weights.feedstock * float(costs.feedstock)
            + weights.machine * float(costs.machine)
            + weights.energy * float(costs.energy)
            + weights.nozzle_wear * float(costs.nozzle_wear)
            + weights.labour * float(costs.labour)
            + weights.scrap * float(costs.scrap)
            + weights.rejects * float(costs.rejects)
        )


@lru_cache(maxsize=50_000)
def _learning(quantity: int, pct: Decimal, until: int, made_before: int) -> float:
    return float(learning_factor(quantity, pct, until, made_before))

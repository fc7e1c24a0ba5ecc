"""A rough look at orders' margins over many quantities: where the least one can be.

It says which quantities to compute, and is never told. What it knows of cost it asks the rules
for, at single builds, single units and single amounts, and adds that up in binary floats, many
quantities at a time: costs add up over builds, fees are shares and sums. Every estimate comes
with what all the rounding in between can amount to; if a rule ceases to add up, the tests that
compare with every quantity say so.

A product that stands for many alike has many numbers in place of each: then what is said of it
has a row for each of them.
"""

from collections.abc import Callable, Hashable
from decimal import Decimal
from operator import mul
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.build import NO_BUILD, Build, BuildAmounts
from gramhour_service.calculation.builds import (
    BuildPlan,
    ProductBuilds,
    part_build,
)
from gramhour_service.calculation.components import (
    bought_components,
    cost_of_purchases,
    stock_components,
)
from gramhour_service.calculation.costs import CostLines, making_costs, with_overheads
from gramhour_service.calculation.design import design_cost
from gramhour_service.calculation.job import ShopRates, YieldForm
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.labour import LabourMinutes
from gramhour_service.calculation.learning import learning_factor
from gramhour_service.repricing.alike.many import Many
from gramhour_service.repricing.quantities import Floats, Stretches, builds_counted

ROUNDINGS_OF_AN_ORDER = 10
"""Of a settled order (net, tax, charged postage, five fees) and of those that it is judged by."""
ROUNDINGS_OF_COSTS = 0.002
"""Of 13 cost lines of 4 decimals; overheads on them make it as much more as of a line."""
MUCH = Decimal(10) ** 9
"""An amount beside which rounding does not show."""
LINES = CostLines._fields.index("material_overhead")
"""So many lines bear overheads."""


PartBuild = Callable[[ProductBuilds, Build, int], Build]


class Weights(NamedTuple):
    """What an amount of each direct cost line comes to with the overheads on it."""

    feedstock: float
    components: float
    machine: float
    energy: float
    nozzle_wear: float
    labour: float
    scrap: float
    rejects: float
    packaging: float
    design: float


class Shared(NamedTuple):
    """What rough looks by the rates of one shop share: how lines weigh, and what was made before.

    ``rates`` are by the units made again for a good one, which is all that products differ in.
    """

    weights: Weights
    arrays: LastMade[Hashable, Floats]
    rates: LastMade[Decimal, "MakingRates"]


def shared_by(shop: ShopRates) -> Shared:
    """Begin to look at what costs by the rates of a shop. Call it within ``costing_arithmetic``."""
    return Shared(weights_of(shop), LastMade(), LastMade())


class RoughCosts:
    """What orders of one product cost but for their packaging, roughly."""

    def __init__(
        self, made: ProductBuilds, shared: Shared, part_build: PartBuild = part_build
    ) -> None:
        """Look at a product's builds. Call it within ``costing_arithmetic``.

        ``part_build`` finds the part-filled ones.
        """
        self._made, self._weights, self._arrays = made, shared.weights, shared.arrays
        self._part_build = part_build
        remade = made.product.remade
        self._rates = shared.rates.of(remade, lambda: making_rates(made, shared.weights))
        self._attending = self._rates.varying_min * floats(made.product.work.build_min)
        self._full = [self._of_build(full) for full in made.full]
        self._part = [
            np.full((*np.shape(cost)[:1], full.piece.pieces_per_build), np.nan)
            for full, cost in zip(made.full, self._full, strict=True)
        ]
        self._once, self._work, self._unit = self._sums()
        self._over: dict[Hashable, Floats] = {}

    def over(self, stretches: Stretches) -> Floats:
        """Cost orders of all quantities of stretches."""
        if stretches.key not in self._over:
            self._over[stretches.key] = self._costs(stretches)
        return self._over[stretches.key]

    def _costs(self, stretches: Stretches) -> Floats:
        costs: Floats = self._work * self._learning(stretches) + self._unit * stretches.numbers
        costs = costs + self._once + self._weights.components * self._bought(stretches)
        for n, build in enumerate(self._made.full):
            full, left = builds_counted(stretches, build.piece.count, build.piece.pieces_per_build)
            costs = costs + full * self._full[n] + self._parts(n, left)[..., left]
        return costs

    def _learning(self, stretches: Stretches) -> Floats:
        work = self._made.product.work
        learning = work.learning_pct, work.learning_until, work.made_before
        return self._arrays.of(
            ("learning", *learning, *stretches.key),
            lambda: np.array([float(learning_factor(q, *learning)) for q in stretches.quantities]),
        )

    def _bought(self, stretches: Stretches) -> Floats | float:
        """Cost components that are bought for the order, which does not add up over units."""
        needs = bought_needs(self._made)
        if not needs:
            return 0.0
        return self._arrays.of(
            ("bought", needs, *stretches.key),
            lambda: np.array(
                [
                    float(cost_of_purchases(bought_components([nothing_built(self._made, q)])))
                    for q in stretches.quantities
                ]
            ),
        )

    def _parts(self, n: int, left: NDArray[np.intp]) -> Floats:
        """Cost the part-filled builds of a piece that hold so many; none of no piece."""
        part, full = self._part[n], self._made.full[n]
        size = full.piece.pieces_per_build
        part[..., 0] = 0.0
        if isinstance(full.piece.machine.failures, YieldForm) and size > 1:
            # Whatever a build holds it fares alike, so that its costs lie on a line.
            one = self._of_build(self._part_build(self._made, full, 1))
            part = _as_wide(part, one)
            part[..., 1:] = one + (self._full[n] - one) * np.linspace(0, 1, size)[:-1]
        for pieces in np.unique(left).tolist():
            if np.isnan(part[..., pieces]).any():
                cost = self._of_build(self._part_build(self._made, full, pieces))
                part = _as_wide(part, cost)
                part[..., [pieces]] = cost
        self._part[n] = part
        return part

    def _of_build(self, build: Build) -> Any:
        """Cost one build with the work at it."""
        costs = map(mul, self._rates.amounts, map(floats, build.amounts))
        return sum(costs, self._attending)

    def _sums(self) -> tuple[Any, Any, Any]:
        """Cost what is paid once an order, one first unit's work, and what a unit bears alike."""
        made, product = self._made, self._made.product
        one = nothing_built(made, 1)
        remade = making_costs(one, LabourMinutes(ZERO, ZERO, ZERO), made.rates).rejects
        return (
            self._rates.once_min * floats(made.once_min),
            self._rates.varying_min * floats(product.work.unit_min),
            self._weights.rejects * float(remade)
            + self._weights.components * float(stock_components(one))
            + self._weights.design * floats(design_cost(product.design_fee, 1)),
        )


def _as_wide(part: Floats, cost: Any) -> Floats:
    """Give a row to each of many if a cost has one: full builds may cost alike, part ones not."""
    rows = np.shape(cost)[:1]
    return np.tile(part, (*rows, 1)) if len(rows) >= part.ndim else part


class MakingRates(NamedTuple):
    """What an amount of builds costs an order, and a minute of work: all lines, with overheads."""

    amounts: tuple[float, ...]
    once_min: float
    varying_min: float


def making_rates(made: ProductBuilds, weights: Weights) -> MakingRates:
    """Cost much of each amount of builds by itself, and of each kind of minutes."""

    def cost(amounts: BuildAmounts, once: Decimal, varying: Decimal) -> float:
        plan = BuildPlan(made, 0, (), 0, amounts)
        costs = making_costs(plan, LabourMinutes(once, varying, ZERO), made.rates)
        total = (
            weights.feedstock * float(costs.feedstock)
            + weights.machine * float(costs.machine)
            + weights.energy * float(costs.energy)
            + weights.nozzle_wear * float(costs.nozzle_wear)
            + weights.labour * float(costs.labour + costs.labour_once)
            + weights.scrap * float(costs.scrap)
            + weights.rejects * float(costs.rejects)
        )
        return total / float(MUCH)

    return MakingRates(
        amounts=tuple(
            cost(NO_BUILD._replace(**{amount: MUCH}), ZERO, ZERO) for amount in NO_BUILD._fields
        ),
        once_min=cost(NO_BUILD, MUCH, ZERO),
        varying_min=cost(NO_BUILD, ZERO, MUCH),
    )


def floats(amount: Any) -> Any:
    """Take an amount as a float; many at once as floats one above the other."""
    return amount.x.astype(np.float64)[:, None] if isinstance(amount, Many) else float(amount)


def bought_needs(made: ProductBuilds) -> tuple[Hashable, ...]:
    """Name what a product needs that is bought for the order, and how much."""
    product = made.product
    bought = [
        (need.component.code, need.per_unit)
        for need in product.components
        if need.component.stock_price is None
    ]
    return (product.remade, *bought) if bought else ()


def nothing_built(made: ProductBuilds, quantity: int) -> BuildPlan:
    """Plan so many units without any build."""
    return BuildPlan(made, quantity, (), 0, NO_BUILD)


def weights_of(rates: ShopRates) -> Weights:
    """Draw the overheads on much of each line."""
    return Weights._make(float(with_overheads(_only(n), rates).total / MUCH) for n in range(LINES))


def _only(line: int) -> tuple[Decimal, ...]:
    return tuple(MUCH if n == line else ZERO for n in range(LINES))

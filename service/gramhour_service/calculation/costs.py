"""All cost lines of one order, their total, and what is paid for anyway."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.builds import BuildPlan, Order, build_plan
from gramhour_service.calculation.components import (
    Purchase,
    bought_components,
    components_line,
    cost_of_purchases,
    packaging,
    packaging_line,
    stock_components,
)
from gramhour_service.calculation.design import design_cost, design_line
from gramhour_service.calculation.energy import energy_line
from gramhour_service.calculation.feedstock import PacksBought, feedstock_line, packs_bought
from gramhour_service.calculation.job import ShopRates
from gramhour_service.calculation.labour import (
    LabourMinutes,
    labour_cost,
    labour_line,
    labour_minutes,
)
from gramhour_service.calculation.machine import machine_line
from gramhour_service.calculation.nozzle_wear import nozzle_wear_line
from gramhour_service.calculation.overheads import (
    admin_overhead_line,
    material_overhead_line,
    production_overhead_line,
)
from gramhour_service.calculation.rejects import made_again, rejects_line
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.scrap import repeated_starts, scrap_line, wasted_printing
from gramhour_service.calculation.use import Use, use_of_order
from gramhour_service.calculation.worked import called, standing


class MakingCosts(NamedTuple):
    """What making one order line's units costs, unrounded, before the lines are drawn."""

    feedstock: Decimal
    stock_components: Decimal
    machine: Decimal
    warm_up_machine: Decimal
    energy: Decimal
    warm_up_energy: Decimal
    nozzle_wear: Decimal
    labour_once: Decimal
    labour: Decimal
    scrap: Decimal
    rejects: Decimal
    machine_time: Decimal


class CostLines(NamedTuple):
    """The cost lines of an order, each with 4 decimals, and their sum."""

    feedstock: Decimal
    components: Decimal
    machine: Decimal
    energy: Decimal
    nozzle_wear: Decimal
    labour: Decimal
    scrap: Decimal
    rejects: Decimal
    packaging: Decimal
    design: Decimal
    material_overhead: Decimal
    production_overhead: Decimal
    admin_overhead: Decimal
    total: Decimal


class Costs(NamedTuple):
    """What an order costs, takes and has bought for it. ``variable`` is the cost less what is
    paid for anyway.
    """

    lines: CostLines
    variable: Decimal
    use: Use
    packs_bought: tuple[PacksBought, ...]
    purchases: tuple[Purchase, ...]


def making_costs(plan: BuildPlan, minutes: LabourMinutes, rates: ShopRates) -> MakingCosts:
    """Cost one order line, unrounded: builds, stock components, work, scrap, rejects."""
    planned = plan.builds
    rate = rates.labour_rate_per_hour
    feedstock = sum((n * build.feedstock for n, build in planned), ZERO)
    components = stock_components(plan)
    machine = sum((n * build.machine for n, build in planned), ZERO)
    warm_up = sum((n * build.warm_up_machine for n, build in planned), ZERO)
    energy = sum((n * build.energy for n, build in planned), ZERO)
    warm_up_energy = sum((n * build.warm_up_energy for n, build in planned), ZERO)
    wear = sum((n * build.nozzle_wear for n, build in planned), ZERO)
    labour = called(labour_cost(minutes.builds + minutes.units, rate), "labour_by_build_and_unit")
    scrap = called(wasted_printing(plan) + repeated_starts(plan, rate), "scrap_unrounded")
    made = feedstock + components + machine + warm_up + energy + warm_up_energy + wear
    return MakingCosts(
        feedstock=called(feedstock, "feedstock_consumed"),
        stock_components=called(components, "components_from_stock"),
        machine=called(machine, "printing_time"),
        warm_up_machine=called(warm_up, "warm_up_time"),
        energy=called(energy, "printing_energy"),
        warm_up_energy=called(warm_up_energy, "warm_up_energy"),
        nozzle_wear=called(wear, "wear_unrounded"),
        labour_once=labour_cost(minutes.once, rate),
        labour=labour,
        scrap=scrap,
        rejects=made_again(plan.product.remade, called(made + labour + scrap, "made")),
        machine_time=paid_machine_time(plan),
    )


@rule
def paid_machine_time(plan: BuildPlan) -> Decimal:
    """Machine time is paid for anyway: of good builds, of failed ones, and of units made again."""
    made = sum(
        (
            n
            * (
                build.machine * (1 + build.fares.wasted)
                + build.warm_up_machine * (1 + build.fares.failed_starts)
            )
            for n, build in plan.builds
        ),
        ZERO,
    )
    return called(made * (1 + plan.product.remade), "paid_machine_time")


@rule
def variable_cost(lines: CostLines, machine_time: Decimal) -> Decimal:
    """The variable cost is the total less machine time and the production and admin overheads."""
    paid_anyway = machine_time + lines.production_overhead + lines.admin_overhead
    return called(lines.total - paid_anyway, "variable_cost")


@rule
def total_cost(lines: Sequence[Decimal]) -> Decimal:
    """The total is the sum of the lines as shown."""
    return standing(sum(lines, ZERO))


def costs_of_order(order: Order) -> Costs:
    """Plan an order's builds and cost it, line by line."""
    plans = [build_plan(line, order.rates) for line in order.lines]
    minutes = [labour_minutes(plan) for plan in plans]
    making = [making_costs(*each, order.rates) for each in zip(plans, minutes, strict=True)]
    use = use_of_order(plans, minutes)
    packs = packs_bought(plans, use.feedstock_g)
    bought = bought_components(plans)
    packed_from_stock, packed_with = packaging(order)
    direct = (
        feedstock_line(sum((m.feedstock for m in making), ZERO), packs),
        components_line(sum((m.stock_components for m in making), ZERO), cost_of_purchases(bought)),
        machine_line(
            sum((m.machine for m in making), ZERO), sum((m.warm_up_machine for m in making), ZERO)
        ),
        energy_line(
            sum((m.energy for m in making), ZERO), sum((m.warm_up_energy for m in making), ZERO)
        ),
        nozzle_wear_line(sum((m.nozzle_wear for m in making), ZERO)),
        labour_line([m.labour_once for m in making], [m.labour for m in making]),
        scrap_line([m.scrap for m in making]),
        rejects_line([m.rejects for m in making]),
        packaging_line(packed_from_stock, cost_of_purchases(packed_with)),
        design_line([design_cost(plan.product.design_fee, plan.quantity) for plan in plans]),
    )
    lines = _with_overheads(direct, order.rates)
    machine_time = sum((m.machine_time for m in making), ZERO)
    return Costs(lines, variable_cost(lines, machine_time), use, packs, (*bought, *packed_with))


def _with_overheads(direct: tuple[Decimal, ...], rates: ShopRates) -> CostLines:
    feedstock, components, machine, energy, wear, labour, scrap, rejects, packed, _ = direct
    material = material_overhead_line(feedstock + components + packed, rates.material_overhead_pct)
    production = production_overhead_line(
        machine + energy + wear + labour + scrap + rejects, rates.production_overhead_pct
    )
    above = sum((*direct, material, production), ZERO)
    lines = (*direct, material, production, admin_overhead_line(above, rates.admin_overhead_pct))
    return CostLines._make((*lines, total_cost(lines)))

"""All cost lines of one order, their total, and what is paid for anyway."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.builds import BuildPlan, Order, OrderLine, build_plan
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
from gramhour_service.calculation.feedstock import (
    PacksBought,
    feedstock_line,
    packs_bought,
    whole_pack_materials,
)
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
from gramhour_service.calculation.scrap import scrap_line
from gramhour_service.calculation.use import grams_used
from gramhour_service.calculation.worked import called, standing


class MakingCosts(NamedTuple):
    """What making one order line's units costs, unrounded, before the lines are drawn."""

    feedstock: Decimal
    stock_components: Decimal
    machine: Decimal
    energy: Decimal
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
    """What an order costs, how it is made, and what has to be bought for it.

    ``variable`` is the cost less what is paid for anyway.
    """

    lines: CostLines
    variable: Decimal
    plans: Sequence[BuildPlan]
    minutes: Sequence[LabourMinutes]
    packs_bought: tuple[PacksBought, ...]
    purchases: tuple[Purchase, ...]


def making_costs(plan: BuildPlan, minutes: LabourMinutes, rates: ShopRates) -> MakingCosts:
    """Cost one order line, unrounded: builds, stock components, work, scrap, rejects."""
    builds = plan.amounts
    rate = rates.labour_rate_per_hour
    components = stock_components(plan)
    labour = called(labour_cost(minutes.builds + minutes.units, rate), "labour_by_build_and_unit")
    scrap = called(builds.scrap, "scrap_unrounded")
    made = builds.feedstock + components + builds.machine + builds.energy + builds.nozzle_wear
    return MakingCosts(
        feedstock=called(builds.feedstock, "feedstock_consumed"),
        stock_components=called(components, "components_from_stock"),
        machine=called(builds.machine, "machine_time_of_builds"),
        energy=called(builds.energy, "energy_of_builds"),
        nozzle_wear=called(builds.nozzle_wear, "wear_unrounded"),
        labour_once=labour_cost(minutes.once, rate),
        labour=labour,
        scrap=scrap,
        rejects=made_again(plan.made.product.remade, called(made + labour + scrap, "made")),
        machine_time=paid_machine_time(builds.machine_time, plan.made.again),
    )


def _added(making: Sequence[MakingCosts]) -> MakingCosts:
    """Add up the order lines, cost by cost."""
    if len(making) == 1:
        return making[0]
    return MakingCosts._make([sum(costs, ZERO) for costs in zip(*making, strict=True)])


@rule
def paid_machine_time(started: Decimal, again: Decimal) -> Decimal:
    """Machine time is paid for anyway: of good builds, of failed ones, and of units made again."""
    return called(started * again, "paid_machine_time")


@rule
def variable_cost(lines: CostLines, machine_time: Decimal) -> Decimal:
    """The variable cost is the total less machine time and the production and admin overheads."""
    paid_anyway = machine_time + lines.production_overhead + lines.admin_overhead
    return called(lines.total - paid_anyway, "variable_cost")


@rule
def total_cost(lines: Sequence[Decimal]) -> Decimal:
    """The total is the sum of the lines as shown."""
    return standing(sum(lines, ZERO))


class DirectCosts(NamedTuple):
    """What an order's units cost but for packaging and overheads, whatever channel they are for."""

    plans: Sequence[BuildPlan]
    minutes: Sequence[LabourMinutes]
    packs: tuple[PacksBought, ...]
    bought: tuple[Purchase, ...]
    lines: tuple[Decimal, ...]
    design: Decimal
    machine_time: Decimal


def direct_costs(lines: Sequence[OrderLine], rates: ShopRates) -> DirectCosts:
    """Plan the builds of an order's units and cost them, line by line."""
    plans = [build_plan(line) for line in lines]
    minutes = [
        labour_minutes(plan.made.product.work, plan.made.once_min, plan.quantity, plan.number)
        for plan in plans
    ]
    made = _added([making_costs(*each, rates) for each in zip(plans, minutes, strict=True)])
    bought_whole = whole_pack_materials(plans)
    packs = packs_bought(bought_whole, grams_used(plans)) if bought_whole else ()
    bought = bought_components(plans)
    return DirectCosts(
        plans=plans,
        minutes=minutes,
        packs=packs,
        bought=bought,
        lines=(
            feedstock_line(made.feedstock, packs),
            components_line(made.stock_components, cost_of_purchases(bought)),
            machine_line(made.machine),
            energy_line(made.energy),
            nozzle_wear_line(made.nozzle_wear),
            labour_line(made.labour_once, made.labour),
            scrap_line(made.scrap),
            rejects_line(made.rejects),
        ),
        design=design_line(
            sum([design_cost(plan.made.product.design_fee, plan.quantity) for plan in plans], ZERO)
        ),
        machine_time=made.machine_time,
    )


class Packed(NamedTuple):
    """What an order is packed in: the line that it makes, and what is bought for it."""

    line: Decimal
    purchases: tuple[Purchase, ...]


def packed(order: Order) -> Packed:
    """Pack an order's units, whatever it took to make them."""
    from_stock, bought = packaging(order)
    return Packed(packaging_line(from_stock, cost_of_purchases(bought)), bought)


def lines_of_order(direct: DirectCosts, packing: Packed, rates: ShopRates) -> CostLines:
    """Draw all lines of an order whose units and packaging are costed."""
    return with_overheads((*direct.lines, packing.line, direct.design), rates)


def costs_of_order(order: Order) -> Costs:
    """Cost an order, line by line."""
    direct, packing = direct_costs(order.lines, order.rates), packed(order)
    lines = lines_of_order(direct, packing, order.rates)
    return Costs(
        lines=lines,
        variable=variable_cost(lines, direct.machine_time),
        plans=direct.plans,
        minutes=direct.minutes,
        packs_bought=direct.packs,
        purchases=(*direct.bought, *packing.purchases),
    )


def with_overheads(direct: tuple[Decimal, ...], rates: ShopRates) -> CostLines:
    """Draw the overheads on the direct lines, and the total."""
    feedstock, components, machine, energy, wear, labour, scrap, rejects, packed, _ = direct
    material = material_overhead_line(feedstock + components + packed, rates.material_overhead_pct)
    production = production_overhead_line(
        machine + energy + wear + labour + scrap + rejects, rates.production_overhead_pct
    )
    above = sum((*direct, material, production), ZERO)
    lines = (*direct, material, production, admin_overhead_line(above, rates.admin_overhead_pct))
    return CostLines._make((*lines, total_cost(lines)))

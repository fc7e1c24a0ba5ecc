"""The whole quote: each break, and the asked quantity, priced as an order of its own."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Literal, NamedTuple

from gramhour_service.calculation.aim import aim_at
from gramhour_service.calculation.builds import Order, OrderLine, ProductBuilds, builds_of_product
from gramhour_service.calculation.contribution import (
    contribution,
    contribution_per_labour_hour,
    contribution_per_machine_hour,
)
from gramhour_service.calculation.costs import Costs, costs_of_order
from gramhour_service.calculation.flags import (
    above_smaller_break,
    below_cost,
    below_margin_floor,
    minimum_order_applied,
    next_total_is_lower,
    postage_pays_for_goods,
)
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.price import Priced, solve
from gramhour_service.calculation.settle import (
    margin_pct,
    markup_pct,
    sale_of,
    unit_cost,
    unit_price_net,
)
from gramhour_service.calculation.use import Use, use_of_order


class Break(NamedTuple):
    """One quantity priced: its costs, its price, and what they come to a unit and an hour."""

    quantity: int
    costs: Costs
    use: Use
    priced: Priced
    unit_price_net: Decimal
    unit_cost: Decimal
    margin_pct: Decimal | None
    markup_pct: Decimal | None
    contribution_per_machine_hour: Decimal | None
    contribution_per_labour_hour: Decimal | None


Flag = Literal[
    "minimum_order_applied",
    "postage_pays_for_goods",
    "below_margin_floor",
    "below_cost",
    "above_smaller_break",
    "next_total_is_lower",
]


class FlaggedBreak(NamedTuple):
    """A break and its flags, in the order in which they are defined."""

    priced: Break
    flags: tuple[Flag, ...]


class Quote(NamedTuple):
    """A job's answer: the asked quantity, and the listed breaks in rising order."""

    at_quantity: FlaggedBreak
    breaks: tuple[FlaggedBreak, ...]


def quote(job: Job) -> Quote:
    """Price a job: the asked quantity and every break. Call it within ``costing_arithmetic``.

    Raises ``CannotBePriced`` if no price reaches an aim, or an amount reaches 10^15.
    """
    made = builds_of_product(job.product, job.rates)
    quantities = sorted({*job.breaks, job.quantity})
    priced = {quantity: _priced(job, made, quantity) for quantity in quantities}
    listed = {quantity: priced[quantity] for quantity in job.breaks}
    return Quote(
        at_quantity=_flagged(job, priced[job.quantity], listed),
        breaks=tuple(_flagged(job, each, listed) for each in listed.values()),
    )


def _priced(job: Job, made: ProductBuilds, quantity: int) -> Break:
    costs = costs_of_order(Order((OrderLine(made, quantity),), job.channel, job.rates))
    cost, use = costs.lines.total, use_of_order(costs.plans, costs.minutes, costs.grams)
    aim = aim_at(job.aim, job.channel, quantity)
    assert aim is not None, "resolve refuses a request that has no aim for a quantity"
    sale = sale_of(
        job.channel, quantity, cost, job.product.design_fee.share, job.rates.minor_digits
    )
    priced = solve(sale, aim, job.discount_share)
    settled = priced.settled
    brings = contribution(settled.net, settled.fees.total, costs.variable)
    return Break(
        quantity=quantity,
        costs=costs,
        use=use,
        priced=priced,
        unit_price_net=unit_price_net(settled.goods_net, quantity),
        unit_cost=unit_cost(cost, quantity),
        margin_pct=margin_pct(settled.profit, settled.net),
        markup_pct=markup_pct(settled.profit, cost),
        contribution_per_machine_hour=contribution_per_machine_hour(brings, use.machine_h),
        contribution_per_labour_hour=contribution_per_labour_hour(
            brings, use.labour_min, job.rates.labour_rate_per_hour
        ),
    )


def _flagged(job: Job, each: Break, listed: Mapping[int, Break]) -> FlaggedBreak:
    settled = each.priced.settled
    smaller = [b.priced.settled.unit_price for n, b in listed.items() if n < each.quantity]
    larger = [b.priced.settled.gross for n, b in listed.items() if n > each.quantity]
    flags: dict[Flag, bool] = {
        "minimum_order_applied": minimum_order_applied(each.priced),
        "postage_pays_for_goods": postage_pays_for_goods(each.priced),
        "below_margin_floor": below_margin_floor(each.priced, job.channel.margin_floor_pct),
        "below_cost": below_cost(each.priced),
        "above_smaller_break": above_smaller_break(settled.unit_price, smaller),
        "next_total_is_lower": next_total_is_lower(settled.gross, larger[0] if larger else None),
    }
    return FlaggedBreak(each, tuple(name for name, raised in flags.items() if raised))

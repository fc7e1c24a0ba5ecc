"""The whole quote: each break, and the asked quantity, priced as an order of its own."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Literal, NamedTuple

from gramhour_service.calculation.aim import aim_at
from gramhour_service.calculation.builds import Order, OrderLine, ProductBuilds
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
from gramhour_service.calculation.orders import Ordered, Orders, ordered_of
from gramhour_service.calculation.price import Priced, solve
from gramhour_service.calculation.settle import (
    Sale,
    Settled,
    margin_pct,
    markup_pct,
    sale_of,
    settle,
    unit_price_net,
)
from gramhour_service.calculation.use import Use


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


def quote(job: Job, orders: Orders | None = None) -> Quote:
    """Price a job: the asked quantity and every break. Call it within ``costing_arithmetic``.

    ``orders`` are those of its product on its channel, if some were worked out before. Raises
    ``CannotBePriced`` if no price reaches an aim, or an amount reaches 10^15.
    """
    orders = orders or Orders(job.product, job.channel, job.rates)
    quantities = sorted({*job.breaks, job.quantity})
    priced = {quantity: _priced_once(job, orders, quantity) for quantity in quantities}
    listed = [priced[quantity] for quantity in job.breaks]
    flagged = {n: _flagged(job, each, listed) for n, each in priced.items()}
    return Quote(flagged[job.quantity], tuple([flagged[n] for n in job.breaks]))


def _priced_once(job: Job, orders: Orders, quantity: int) -> Break:
    """Price so many units; who asks the same again gets the same."""
    asked = quantity, job.aim, job.discount_share
    return orders.priced.of(asked, lambda: priced_order(job, orders.of(quantity)))


def costs_at(job: Job, made: ProductBuilds, quantity: int) -> Costs:
    """Cost so many units of a job's product; ``made`` are its builds, shared by all quantities."""
    return costs_of_order(Order((OrderLine(made, quantity),), job.channel, job.rates))


def price_at(job: Job, quantity: int, cost: Decimal) -> Priced:
    """Price so many units of a job's product, which cost so much together.

    Raises ``CannotBePriced`` if no price reaches the aim.
    """
    return price_of(job, _sale(job, quantity, cost))


def price_of(job: Job, sale: Sale) -> Priced:
    """Price what is sold as a job has it. Raises ``CannotBePriced`` if no price reaches the aim."""
    aim = aim_at(job.aim, job.channel, sale.units)
    assert aim is not None, "resolve refuses a request that has no aim for a quantity"
    return solve(sale, aim, job.discount_share)


def settled_at(job: Job, quantity: int, cost: Decimal, unit_price: Decimal) -> Settled:
    """Compute so many units of a job's product, which cost so much, back from a unit price."""
    return settle(_sale(job, quantity, cost), unit_price)


def _sale(job: Job, quantity: int, cost: Decimal) -> Sale:
    share, digits = job.product.design_fee.share, job.rates.minor_digits
    return sale_of(job.channel, quantity, cost, share, digits)


def priced_at(job: Job, made: ProductBuilds, quantity: int) -> Break:
    """Price so many units of a job's product as an order of its own.

    Raises ``CannotBePriced`` if no price reaches the aim.
    """
    return priced_order(job, ordered_of(made, job.channel, quantity))


def priced_order(job: Job, ordered: Ordered) -> Break:
    """Price what is ordered of a job's product on its channel.

    Raises ``CannotBePriced`` if no price reaches the aim.
    """
    quantity, costs, use, unit_cost, sale = ordered
    priced = price_of(job, sale)
    settled = priced.settled
    brings = contribution(settled.net, settled.fees.total, costs.variable)
    return Break(
        quantity=quantity,
        costs=costs,
        use=use,
        priced=priced,
        unit_price_net=unit_price_net(settled.goods_net, quantity),
        unit_cost=unit_cost,
        margin_pct=margin_pct(settled.profit, settled.net),
        markup_pct=markup_pct(settled.profit, sale.cost),
        contribution_per_machine_hour=contribution_per_machine_hour(brings, use.machine_h),
        contribution_per_labour_hour=contribution_per_labour_hour(
            brings, use.labour_min, job.rates.labour_rate_per_hour
        ),
    )


def _flagged(job: Job, each: Break, listed: Sequence[Break]) -> FlaggedBreak:
    settled = each.priced.settled
    smaller = [b.priced.settled.unit_price for b in listed if b.quantity < each.quantity]
    larger = [b.priced.settled.gross for b in listed if b.quantity > each.quantity]
    flags: tuple[tuple[Flag, bool], ...] = (
        ("minimum_order_applied", minimum_order_applied(each.priced)),
        ("postage_pays_for_goods", postage_pays_for_goods(each.priced)),
        ("below_margin_floor", below_margin_floor(each.priced, job.channel.margin_floor_pct)),
        ("below_cost", below_cost(each.priced)),
        ("above_smaller_break", above_smaller_break(settled.unit_price, smaller)),
        ("next_total_is_lower", next_total_is_lower(settled.gross, larger[0] if larger else None)),
    )
    return FlaggedBreak(each, tuple([name for name, raised in flags if raised]))

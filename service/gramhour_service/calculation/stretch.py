"""A listed price over the quantities that it holds for: from its break up to the next one."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.aim import aim_at, margin_break
from gramhour_service.calculation.builds import (
    BuildPlan,
    Order,
    OrderLine,
    order_line,
    pieces_needed,
)
from gramhour_service.calculation.components import bought_components, packaging
from gramhour_service.calculation.costs import costs_of_order
from gramhour_service.calculation.feedstock import whole_pack_materials
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.postage import parcels
from gramhour_service.calculation.price import Priced, solve
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.settle import Sale, Settled, sale_of, settle

MOST_LOOKED_AT = 1_000
"""Quantities of one stretch; of a longer one the first so many changes, and its end."""
LEAST_LENGTH = 10


class Made(NamedTuple):
    """A job whose full builds are worked out, to be costed at many quantities."""

    job: Job
    line: OrderLine


class Least(NamedTuple):
    """The least margin over a stretch, as profit and net of the order, and at which quantity.

    ``profit`` and ``net`` are those of that order.
    """

    quantity: int
    profit: Decimal
    net: Decimal


def made(job: Job) -> Made:
    """Work out the full builds of a job. Call it within ``costing_arithmetic``."""
    return Made(job, order_line(job.product, job.quantity, job.rates))


def sale_at(each: Made, quantity: int) -> Sale:
    """Cost a quantity as an order of its own."""
    job = each.job
    line = each.line._replace(quantity=quantity)
    cost = costs_of_order(Order((line,), job.channel, job.rates)).lines.total
    share, digits = job.product.design_fee.share, job.rates.minor_digits
    return sale_of(job.channel, quantity, cost, share, digits)


def solved(each: Made, sale: Sale) -> Priced:
    """Price what was costed. Raises ``CannotBePriced``."""
    job = each.job
    aim = aim_at(job.aim, job.channel, sale.units)
    assert aim is not None, "resolve refuses a request that has no aim for a quantity"
    return solve(sale, aim, job.discount_share)


@rule
def stretch_of(quantity: int, following: int | None, multiple: int) -> range:
    """A listed price holds from its break up to the next; the last one is looked at up to double.

    Over ten units at least, and in the multiples that the channel sells.
    """
    beyond = max(2 * quantity, quantity + LEAST_LENGTH) if following is None else following
    return range(quantity, beyond, multiple)


def least_margins(each: Made, prices: Sequence[Decimal], stretch: range) -> list[Least | None]:
    """Find the least margin of each of several shown prices over a stretch.

    Looked at are its ends and every quantity at which a number of builds, packs or parcels or
    the margin break is another than before. None where nothing is paid at any of them.
    """
    least: list[Least | None] = [None] * len(prices)
    for quantity in _quantities(each, stretch):
        sale = sale_at(each, quantity)
        for n, price in enumerate(prices):
            least[n] = _lesser(least[n], settle(sale, price), quantity)
    return least


def _lesser(least: Least | None, settled: Settled, quantity: int) -> Least | None:
    if not settled.net:
        return least
    if least is None or settled.profit * least.net < least.profit * settled.net:
        return Least(quantity, settled.profit, settled.net)
    return least


def _quantities(each: Made, stretch: range) -> Iterator[int]:
    """List where something changes, and both ends; of very many the first, and the last."""
    looked_at, before = 0, None
    for quantity in stretch[:-1]:
        counts = counts_at(each, quantity)
        if counts != before:
            yield quantity
            looked_at += 1
        before = counts
        if looked_at == MOST_LOOKED_AT:
            break
    yield stretch[-1]


def counts_at(each: Made, quantity: int) -> tuple[object, ...]:
    """Count the builds, packs and parcels of an order, with its margin break.

    An order that buys filament in whole packs counts as another at every quantity.
    """
    job = each.job
    plan = BuildPlan(job.product, quantity, ())
    order = Order((each.line._replace(quantity=quantity),), job.channel, job.rates)
    bought = (*bought_components([plan]), *packaging(order)[1])
    return (
        tuple(
            -(-pieces_needed(quantity, piece.count) // piece.pieces_per_build)
            for piece in job.product.pieces
        ),
        tuple(each.packs for each in bought),
        parcels(job.channel.postage, quantity),
        margin_break(job.channel.margin_breaks, quantity),
        quantity if whole_pack_materials([plan]) else None,
    )

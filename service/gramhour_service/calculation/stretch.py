"""A listed price over the quantities that it holds for: from its break up to the next one."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.aim import margin_break
from gramhour_service.calculation.build import NO_BUILD
from gramhour_service.calculation.builds import (
    BuildPlan,
    Order,
    OrderLine,
    ProductBuilds,
    pieces_needed,
)
from gramhour_service.calculation.components import bought_components, packaging
from gramhour_service.calculation.feedstock import whole_pack_materials
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.postage import parcels

MOST_LOOKED_AT = 1_000
"""Quantities of one stretch; of a longer one the first so many, and its end."""
LEAST_LENGTH = 10
MOST_UNITS = 100_000
"""More are not quoted at once, as the contract has it, so that none are looked at either."""


class Least(NamedTuple):
    """The least margin over a stretch: at which quantity, and that order's profit and net."""

    quantity: int
    profit: Decimal
    net: Decimal


def stretch_of(quantity: int, following: int | None, multiple: int) -> list[int]:
    """List what a listed price holds for: from its break up to the next one.

    The last is looked at up to double, which people order too, over ten units at least; only what
    the channel sells is.
    """
    double = min(max(2 * quantity + 1, quantity + LEAST_LENGTH), MOST_UNITS + 1)
    beyond = double if following is None else following
    holds_for = range(quantity, beyond, multiple)
    return [*holds_for[:-1][:MOST_LOOKED_AT], holds_for[-1]]


def beside_minimum(unit_price: Decimal, minimum_order: Decimal, multiple: int) -> list[int]:
    """List the last quantity whose order is raised to the minimum, and the first whose is not.

    Where that is more than can be ordered, it is the largest order.
    """
    largest = multiple * (MOST_UNITS // multiple)
    if not unit_price:
        return [largest]
    whole, rest = divmod(minimum_order, unit_price * multiple)
    first = multiple * (int(whole) + bool(rest))
    return [first - multiple, first] if first <= largest else [largest]


def lesser(least: Least | None, other: Least) -> Least | None:
    """Take the one with the lower margin; of equal ones that of the smaller quantity."""
    if not other.net:
        return least
    if least is None:
        return other
    difference = other.profit * least.net - least.profit * other.net
    is_less = difference < 0 or (not difference and other.quantity < least.quantity)
    return other if is_less else least


def counts_at(job: Job, made: ProductBuilds, quantity: int) -> tuple[object, ...]:
    """Count the builds, packs and parcels of an order, with its margin break.

    An order that buys filament in whole packs counts as another at every quantity.
    """
    plan = BuildPlan(made, quantity, (), 0, NO_BUILD)
    order = Order((OrderLine(made, quantity),), job.channel, job.rates)
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

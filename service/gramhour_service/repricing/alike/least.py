"""The least margins of listings that are sold alike, each over the quantities of its breaks."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.calculation.settle import Settled
from gramhour_service.repricing.alike.calculating import bound
from gramhour_service.repricing.alike.many import Doubts, Many, Places, finest
from gramhour_service.repricing.alike.sold import SoldAlike, spread
from gramhour_service.repricing.quantities import Floats

FEW = 2
"""So few are computed apart sooner than all of them at another quantity."""


class LeastOfEach(NamedTuple):
    """The least margin of each listing: at which quantity, and that order's profit and net."""

    quantities: NDArray[np.intp]
    profit: Many
    net: Many


def least_of_each(
    sold: SoldAlike, unit_prices: Sequence[Many], at_breaks: Sequence[Settled]
) -> list[LeastOfEach]:
    """Find the least margin over the quantities of each break, at the unit price of each listing.

    ``at_breaks`` are the orders of the breaks themselves. Looked at are the quantities that
    ``least_margins`` looks at; where nothing is paid it is left open.
    """
    at_least = sold.margins(unit_prices)
    spans = sold.selling.stretches.spans
    return [
        _least(sold, unit_price, settled, span, at_least[:, span.start : span.stop])
        for unit_price, settled, span in zip(unit_prices, at_breaks, spans, strict=True)
    ]


def _least(
    sold: SoldAlike, unit_price: Many, settled: Settled, span: range, at_least: Floats
) -> LeastOfEach:
    stretches = sold.selling.stretches
    quantities = stretches.quantities
    dtype = sold.made.dtype
    least = LeastOfEach(
        np.full(len(at_least), quantities[span[0]], np.intp),
        _copied(spread(settled.profit, dtype, sold.doubts)),
        _copied(spread(settled.net, dtype, sold.doubts)),
    )
    sold.doubts.note(least.net.x <= 0)
    minimum, (last, end) = sold.selling.job.channel.minimum_order, stretches.goes_on_from(span)
    if minimum and last < end:  # it ceases beyond, elsewhere for each
        sold.doubts.note(unit_price * last < minimum)
    builds, shape = sold.made.builds, sold.made.shape
    for n, place in enumerate(span[1:], 1):
        possible = _possible(least, at_least[:, n])
        if len(possible) and not sold.selling.counts(builds, shape, place):
            possible = _that_pass(sold, place, unit_price, possible)
        if len(possible):
            _look_at(sold, quantities[place], unit_price, possible, least)
    return least


def _that_pass(sold: SoldAlike, place: int, unit_price: Many, possible: Places) -> Places:
    """Name those that cease to be raised to the minimum order beside a place."""
    minimum, quantities = sold.selling.job.channel.minimum_order, sold.selling.stretches.quantities
    if not minimum:
        return possible[:0]
    doubts = Doubts(len(possible))
    price = unit_price.taken(possible, doubts)
    ceases = (price * quantities[place - 1] < minimum) & (price * quantities[place + 1] >= minimum)
    sold.doubts.mask[possible] |= doubts.mask
    passing: Places = possible[ceases]
    return passing


def _copied(number: Many) -> Many:
    return Many(number.x.copy(), number.off, number.top, number.places, number.doubts)


def _possible(least: LeastOfEach, at_least: Floats) -> Places:
    """Name those whose margin can be less at a quantity than the least so far."""
    net = np.where(least.net.x > 0, least.net.x, 1)
    return np.nonzero(at_least <= (least.profit.x / net).astype(np.float64))[0]


def _look_at(
    sold: SoldAlike, quantity: int, unit_price: Many, possible: Places, least: LeastOfEach
) -> None:
    """Settle orders of a quantity, and take over those whose margin is less."""
    doubts = Doubts(len(possible))
    if len(sold.places) > FEW and len(possible) <= FEW:
        doubts.mask[:] = True
    else:
        cost = sold.cost(quantity).taken(possible, doubts)
        order = bound.settle(sold.sale(quantity, cost), unit_price.taken(possible, doubts))
        profit, net = order.profit, spread(order.net, sold.made.dtype, doubts)
        doubts.note(net.x <= 0)
        before = least.profit.taken(possible, doubts), least.net.taken(possible, doubts)
        less = profit * before[1] < before[0] * net
        chosen = possible[less]
        least.quantities[chosen] = quantity
        least.profit.x[chosen], least.net.x[chosen] = profit.x[less], net.x[less]
        _keep_bounds(least.profit, profit)
        _keep_bounds(least.net, net)
    sold.doubts.mask[possible] |= doubts.mask


def _keep_bounds(number: Many, other: Many) -> None:
    number.off, number.top = max(number.off, other.off), max(number.top, other.top)
    number.places = finest(number, other)

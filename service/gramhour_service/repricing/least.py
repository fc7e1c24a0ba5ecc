"""The least margins of a listing's prices, each over the quantities that it holds for."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.stretch import Least, beside_minimum, lesser
from gramhour_service.repricing.evaluating import Sold
from gramhour_service.repricing.quantities import Floats
from gramhour_service.repricing.selling import Selling


class Shown(NamedTuple):
    """Shown unit prices: each holds from its quantity up to the next, in rising order."""

    from_quantities: Sequence[int]
    unit_prices: Sequence[Decimal]

    def at(self, quantity: int) -> Decimal | None:
        """Find the price of a quantity, none where it is less than the first."""
        place = bisect_right(self.from_quantities, quantity)
        return self.unit_prices[place - 1] if place else None


def least_margins(sold: Sold, shown: Shown) -> list[Least | None]:
    """Find the least margin over the quantities of each break of what is sold.

    There is none where a break has no price, or nothing is paid at any quantity. Looked at are
    both ends and, wherever a number of builds, packs or parcels, the margin break or the price
    changes or the minimum order ceases to hold, the last quantity before it and the first after:
    in between a margin mostly only rises or only falls. The last stretch, which has no end, is
    looked at so where the minimum order ceases beyond it. Where a rough look says that it cannot
    be the least, nothing is computed.
    """
    spans = sold.selling.stretches.spans
    at_least = _possibly(sold, shown)
    starts = sold.selling.job.breaks
    return [
        None if shown.at(start) is None else _least(sold, shown, span, at_least)
        for start, span in zip(starts, spans, strict=True)
    ]


def _possibly(sold: Sold, shown: Shown) -> Floats:
    """Say what the margin of each quantity is at least."""
    making, stretches = sold.making, sold.selling.stretches
    if tuple(shown.from_quantities) == stretches.breaks:
        prices = stretches.drawn_out([float(price) for price in shown.unit_prices])
    else:
        prices = stretches.each([float(shown.at(q) or 0) for q in stretches.quantities])
    costs = making.rough.over(stretches)
    return sold.selling.margins(making.builds, making.shape, costs, prices)


def _least(sold: Sold, shown: Shown, span: range, at_least: Floats) -> Least | None:
    making, selling = sold.making, sold.selling
    here = at_least[span.start : span.stop]
    least: Least | None = None
    for n in here.argsort(kind="stable").tolist():
        if least is not None and here[n] > float(least.profit / least.net):
            break
        place = span[n]
        is_counted = selling.counts(making.builds, making.shape, place)
        if is_counted or _changes(selling, shown, place):
            quantity = selling.stretches.quantities[place]
            unit_price = shown.at(quantity)
            assert unit_price is not None, "its stretch begins at a break that has a price"
            least = lesser(least, _settled(sold, quantity, unit_price))
    for quantity, unit_price in _beyond(selling, shown, span):
        least = lesser(least, _settled(sold, quantity, unit_price))
    return least


def _settled(sold: Sold, quantity: int, unit_price: Decimal) -> Least:
    settled = sold.settled(quantity, unit_price)
    return Least(quantity, settled.profit, settled.net)


def _beyond(selling: Selling, shown: Shown, span: range) -> Iterator[tuple[int, Decimal]]:
    """Name what is looked at beyond the quantities of a stretch that has more, at which price."""
    last, end = selling.stretches.goes_on_from(span)
    unit_price, minimum = shown.at(last), selling.job.channel.minimum_order
    if last < end and minimum and unit_price is not None and unit_price * last < minimum:
        for quantity in beside_minimum(unit_price, minimum, selling.stretches.multiple):
            if last < quantity < end and shown.at(quantity) == unit_price:
                yield quantity, unit_price


def _changes(selling: Selling, shown: Shown, place: int) -> bool:
    """Say whether the price, or whether a minimum order raises it, is another beside a place."""
    minimum = selling.job.channel.minimum_order
    beside = selling.stretches.quantities[place - 1 : place + 2]
    prices = [shown.at(quantity) or 0 for quantity in beside]
    if len({*prices}) > 1:
        return True
    return bool(minimum) and len({prices[0] * quantity < minimum for quantity in beside}) > 1

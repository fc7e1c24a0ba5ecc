"""Lines of listings that are made and sold alike, all priced at once."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

import numpy as np

from gramhour.contract.answer import ListedBreak
from gramhour_service.calculation.settle import Settled
from gramhour_service.repricing.alike.calculating import bound
from gramhour_service.repricing.alike.least import LeastOfEach, least_of_each
from gramhour_service.repricing.alike.many import Many, Mask, column
from gramhour_service.repricing.alike.sold import SoldAlike, decimals, spread
from gramhour_service.repricing.evaluating import Figures, Offered
from gramhour_service.repricing.lines import Line, Listed, PricedBreak, floor_of, told_line

NOTHING = Decimal(0)


class ToPrice(NamedTuple):
    """A listing to price anew, and its price as it stands."""

    offered: Offered
    listed: Listed | None


class _Prices(NamedTuple):
    """Orders of each break at prices of each listing, and the least margins of these prices."""

    settled: list[Settled]
    least: list[LeastOfEach]


def lines_alike(items: Sequence[ToPrice], sold: SoldAlike) -> list[Line | None]:
    """Price listings anew; none for those that something was left open of.

    All have a price with the same breaks as now, or none has. Raises ``CannotBePriced`` if no
    price reaches their aim.
    """
    now = _at_prices(sold, [sold.priced(quantity) for quantity in sold.selling.job.breaks])
    kept = _kept(sold, items)
    under = _under_floors(sold, items, [now] if kept is None else [now, kept])
    breaks = list(_breaks(sold, now, kept, items))
    in_doubt = sold.in_doubt()
    return [
        None
        if in_doubt[n]
        else told_line(
            *item, [each[n] for each in breaks], is_under=under[0][n], if_kept=under[1][n]
        )
        for n, item in enumerate(items)
    ]


def figures_alike(items: Sequence[ToPrice], sold: SoldAlike) -> list[list[Figures] | None]:
    """Cost and price listings at the breaks that they are listed with; all have the same.

    None for those that something was left open of. Raises ``CannotBePriced`` if no price reaches
    their aim.
    """
    listed, size = items[0].listed, len(items)
    assert listed is not None, "who asks by other rates has listed prices"
    at_breaks = []
    for quantity in listed.quantities:
        costs = decimals(bound.unit_cost(sold.cost(quantity), quantity), 4, size)
        digits = sold.selling.job.rates.minor_digits
        prices = decimals(sold.priced(quantity).unit_price, digits, size)
        at_breaks.append([Figures(*each) for each in zip(costs, prices, strict=True)])
    in_doubt = sold.in_doubt()
    return [None if in_doubt[n] else [each[n] for each in at_breaks] for n in range(size)]


def _kept(sold: SoldAlike, items: Sequence[ToPrice]) -> _Prices | None:
    """Settle the prices that are listed anew, if there are any."""
    listed = [item.listed.breaks for item in items if item.listed is not None]
    if not listed:
        return None
    settled = []
    for quantity, breaks in zip(sold.selling.job.breaks, zip(*listed, strict=True), strict=True):
        prices = _spread(sold, [each.unit_price for each in breaks])
        settled.append(sold.settled(quantity, prices))
    return _at_prices(sold, settled)


def _at_prices(sold: SoldAlike, settled: list[Settled]) -> _Prices:
    prices = [spread(each.unit_price, sold.made.dtype, sold.doubts) for each in settled]
    return _Prices(settled, least_of_each(sold, prices, settled))


def _spread(sold: SoldAlike, numbers: list[Decimal]) -> Many:
    dtype, doubts = sold.made.dtype, sold.doubts
    return spread(column(numbers, dtype, doubts), dtype, doubts)


def _under_floors(
    sold: SoldAlike, items: Sequence[ToPrice], prices: list[_Prices]
) -> list[list[bool]]:
    """Say of new and of listed prices whose margin falls below its floor."""
    floors = [floor_of(item.offered, sold.selling) for item in items]
    has_floor = np.array([floor is not None for floor in floors])
    least = _spread(sold, [floor or NOTHING for floor in floors])
    told = []
    for each in prices:
        under: Mask = np.zeros(len(items), np.bool_)
        for of_break in each.least:
            under |= of_break.profit * 100 < least * of_break.net
        told.append((under & has_floor).tolist())
    return [*told, [False] * len(items)]


def _breaks(
    sold: SoldAlike, now: _Prices, kept: _Prices | None, items: Sequence[ToPrice]
) -> Iterator[list[PricedBreak]]:
    """Tell each break of all listings."""
    size, digits = len(items), sold.selling.job.rates.minor_digits
    for n, quantity in enumerate(sold.selling.job.breaks):
        settled, least = now.settled[n], now.least[n]
        columns: list[Any] = [
            decimals(bound.unit_cost(sold.cost(quantity), quantity), 4, size),
            decimals(settled.unit_price, digits, size),
            decimals(bound.unit_price_net(settled.goods_net, quantity), 4, size),
            decimals(bound.margin_pct(settled.profit, settled.net), 2, size),
            decimals(bound.margin_pct(least.profit, least.net), 2, size),
            least.quantities.tolist(),
            *_columns_if_kept(kept, n, size),
            [_listed_break(item, n) for item in items],
        ]
        yield [
            PricedBreak(
                quantity, Figures(cost, price), net, margin, least_pct, at, before, *if_kept
            )
            for cost, price, net, margin, least_pct, at, if_kept, before in zip(
                *columns, strict=True
            )
        ]


def _columns_if_kept(kept: _Prices | None, n: int, size: int) -> Iterator[list[Any]]:
    if kept is None:
        yield [(None, None)] * size
        return
    settled, least = kept.settled[n], kept.least[n]
    margins = decimals(bound.margin_pct(settled.profit, settled.net), 2, size)
    yield [*zip(margins, decimals(bound.margin_pct(least.profit, least.net), 2, size), strict=True)]


def _listed_break(item: ToPrice, n: int) -> ListedBreak | None:
    return None if item.listed is None else item.listed.breaks[n]

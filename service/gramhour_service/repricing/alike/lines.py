"""Lines of listings that are made and sold alike, all priced at once."""

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

import numpy as np
from msgspec import UNSET

from gramhour.contract.listing import Listing
from gramhour_service.calculation.settle import Settled
from gramhour_service.repricing.alike.calculating import bound
from gramhour_service.repricing.alike.columns import (
    COST,
    PER_CENT,
    Break,
    BreakBefore,
    BreakIfKept,
    BreakNow,
    ToPrice,
    Wholes,
    breaks_before,
    wholes,
)
from gramhour_service.repricing.alike.least import LeastOfEach, least_of_each
from gramhour_service.repricing.alike.many import Mask, column, of_wholes
from gramhour_service.repricing.alike.moves import Moves, all_new, moves_of_each
from gramhour_service.repricing.alike.sold import SoldAlike, decimals, spread
from gramhour_service.repricing.alike.told import written
from gramhour_service.repricing.evaluating import Figures
from gramhour_service.repricing.lines import floor_of
from gramhour_service.repricing.reported import Reported

NOTHING = Decimal(0)


class _Prices(NamedTuple):
    """Orders of each break at prices of each listing, and the least margins of these prices."""

    settled: list[Settled]
    least: list[LeastOfEach]


def lines_alike(items: Sequence[ToPrice], sold: SoldAlike) -> list[Reported | None]:
    """Price listings anew; none for those that something was left open of.

    All have a price with the same breaks and decimals as now, or none has. Raises
    ``CannotBePriced`` if no price reaches their aim.
    """
    digits = sold.selling.job.rates.minor_digits
    listed = [item.listed.breaks for item in items if item.listed is not None]
    before = breaks_before(listed, digits) if listed else None
    now = _at_prices(sold, [sold.priced(quantity) for quantity in sold.selling.job.breaks])
    kept = None if before is None else _kept(sold, before)
    under = _under_floors(sold, items, now, kept)
    breaks = list(_breaks(sold, now, before, kept))
    moves = _moves(items, breaks, digits)
    left = sold.in_doubt() | moves.left
    lines = written(items, breaks, digits, moves, under)
    return [None if left[n] else line for n, line in enumerate(lines)]


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


def _kept(sold: SoldAlike, before: Sequence[BreakBefore]) -> _Prices:
    """Settle the prices that are listed anew."""
    dtype, digits = sold.made.dtype, sold.selling.job.rates.minor_digits
    return _at_prices(
        sold,
        [
            sold.settled(quantity, of_wholes(each.unit_price, digits, dtype, sold.doubts))
            for quantity, each in zip(sold.selling.job.breaks, before, strict=True)
        ],
    )


def _at_prices(sold: SoldAlike, settled: list[Settled]) -> _Prices:
    prices = [spread(each.unit_price, sold.made.dtype, sold.doubts) for each in settled]
    return _Prices(settled, least_of_each(sold, prices, settled))


def _under_floors(
    sold: SoldAlike, items: Sequence[ToPrice], now: _Prices, kept: _Prices | None
) -> tuple[list[bool], list[bool]]:
    """Say of new and of listed prices whose margin falls below its floor."""
    floors = [floor_of(item.offered, sold.selling) for item in items]
    has_floor = np.array([floor is not None for floor in floors])
    dtype, doubts = sold.made.dtype, sold.doubts
    least = spread(column([floor or NOTHING for floor in floors], dtype, doubts), dtype, doubts)

    def under(prices: _Prices) -> list[bool]:
        mask: Mask = np.zeros(len(items), np.bool_)
        for of_break in prices.least:
            mask |= of_break.profit * 100 < least * of_break.net
        told: list[bool] = (mask & has_floor).tolist()
        return told

    return under(now), [False] * len(items) if kept is None else under(kept)


def _breaks(
    sold: SoldAlike, now: _Prices, before: Sequence[BreakBefore] | None, kept: _Prices | None
) -> Iterator[Break]:
    """Tell each break of all listings."""
    size, digits = len(sold.places), sold.selling.job.rates.minor_digits
    for n, quantity in enumerate(sold.selling.job.breaks):
        settled, (margin, least_margin) = now.settled[n], _margins(now, n, size)
        cost = bound.unit_cost(sold.cost(quantity), quantity)
        net = bound.unit_price_net(settled.goods_net, quantity)
        yield Break(
            quantity=quantity,
            now=BreakNow(
                unit_price=wholes(settled.unit_price, digits, size),
                unit_cost=wholes(cost, COST, size),
                unit_price_net=wholes(net, COST, size),
                margin_pct=margin,
                least_margin_pct=least_margin,
                least_margin_at=now.least[n].quantities,
            ),
            before=None if before is None else before[n],
            if_kept=None if kept is None else BreakIfKept(*_margins(kept, n, size)),
        )


def _margins(prices: _Prices, n: int, size: int) -> tuple[Wholes, Wholes]:
    """Say the margin and the least margin at a break."""
    settled, least = prices.settled[n], prices.least[n]
    margin = bound.margin_pct(settled.profit, settled.net)
    return (
        wholes(margin, PER_CENT, size),
        wholes(bound.margin_pct(least.profit, least.net), PER_CENT, size),
    )


def _moves(items: Sequence[ToPrice], breaks: Sequence[Break], digits: int) -> Moves:
    """Say by how much listings move; what had no price is new."""
    before = [at.before for at in breaks if at.before is not None]
    if not before:
        return all_new(len(items))
    moves = moves_of_each(
        np.stack([each.unit_price for each in before]),
        np.stack([at.now.unit_price for at in breaks]),
        np.stack([each.unit_price_net for each in before]),
        np.stack([at.now.unit_price_net for at in breaks]),
        np.array([_worth_making(item.offered.listing, digits) for item in items], np.int64),
    )
    held = [item.offered.listing.hold is True for item in items]
    outcomes = ["held" if each else word for each, word in zip(held, moves.outcomes, strict=True)]
    return moves._replace(outcomes=outcomes)


def _worth_making(listing: Listing, digits: int) -> int:
    """Say by how many of the minor unit a price must move at the least."""
    least = listing.least_change
    return 0 if least is UNSET else math.ceil(least.scaleb(digits))

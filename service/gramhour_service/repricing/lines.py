"""One listing of a repricing: its new price beside the listed one, and what it comes to."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, json

from gramhour.contract.answer import ListedBreak
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import LineBreak, RepricingLine
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.breaks import settled_at
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.settle import margin_pct, unit_price_net
from gramhour_service.calculation.stretch import Least, Stretch, stretch_of
from gramhour_service.listings.asked import multiple_sold
from gramhour_service.repricing.effects import NO_EFFECTS, Effects, Moved, effects_on
from gramhour_service.repricing.evaluating import (
    Evaluated,
    Figures,
    Making,
    Makings,
    Offered,
    can_price,
    evaluated,
)
from gramhour_service.repricing.moves import PERCENT, Move, largest_pct, moves_between, outcome_of


class Listed(NamedTuple):
    """The price of a listing as it stands: its breaks, and the rates they came from."""

    breaks: list[ListedBreak]
    moved: Moved
    is_as_described: bool

    def at(self, quantity: int) -> ListedBreak | None:
        """Find the break that a quantity takes its price from."""
        return max(
            (each for each in self.breaks if each.from_quantity <= quantity),
            key=lambda each: each.from_quantity,
            default=None,
        )

    def price_at(self, quantity: int) -> Decimal:
        """Say the price of a quantity that is sold."""
        found = self.at(quantity)
        assert found is not None, "it is asked only from a break on that has a price"
        return found.unit_price


class Line(NamedTuple):
    """A line as it is told, and the prices that applying it would list."""

    told: RepricingLine
    prices: list[ListedBreak]


class _Break(NamedTuple):
    """A break evaluated, the listed one, and the least margins of both prices."""

    job: Job
    now: Evaluated
    before: ListedBreak | None
    least: Least | None
    least_if_kept: Least | None


def line_of(offered: Offered, makings: Makings, listed: Listed | None) -> Line:
    """Price a listing anew. What cannot be priced is a line that says why."""
    try:
        with costing_arithmetic():
            return _line(offered, makings, listed)
    except Refused as refused:
        return _failed(offered, refused.faults)


def _name(offered: Offered) -> str:
    names = (offered.listing.name, offered.product.name)
    return next((name for name in names if name is not UNSET), "")


def _failed(offered: Offered, faults: Sequence[Fault]) -> Line:
    told = RepricingLine(
        sku=offered.sku,
        name=_name(offered),
        channel=offered.listing.channel,
        outcome="failed",
        breaks=[],
        errors=list(faults),
    )
    return Line(told, [])


def _line(offered: Offered, makings: Makings, listed: Listed | None) -> Line:
    target = makings.target
    if not can_price(offered, target):
        detail = "the rates have no longer all that its product and channel name"
        raise Refused("invalid-request", (Fault("", detail),))
    making = makings.of(offered)
    job = makings.sold(offered)
    multiple = multiple_sold(target.sheet, offered.listing.channel)
    breaks = _breaks(job, making, multiple, listed)
    effects = _effects(offered, listed, breaks)
    floor = _floor(offered, job)
    before = {} if listed is None else {b.from_quantity: b.unit_price for b in listed.breaks}
    moves = moves_between(before, {b.now.quantity: b.now.figures.unit_price for b in breaks})
    prices = [_price(b) for b in breaks]
    told = RepricingLine(
        sku=offered.sku,
        name=_name(offered),
        channel=offered.listing.channel,
        outcome=outcome_of(offered.listing, moves, _nets(listed, prices)),
        change_pct=largest_pct(moves),
        under_floor=_is_under(floor, [b.least for b in breaks]),
        under_floor_if_kept=_is_under(floor, [b.least_if_kept for b in breaks]),
        breaks=[_told(b, effect) for b, effect in zip(breaks, effects, strict=True)],
    )
    return Line(told, prices)


def _breaks(job: Job, making: Making, multiple: int, listed: Listed | None) -> list[_Break]:
    told = []
    for quantity, following in zip(job.breaks, (*job.breaks[1:], None), strict=True):
        now = evaluated(job, making, quantity)
        before = None if listed is None else listed.at(quantity)
        over = stretch_of(quantity, following, multiple)
        stretch = Stretch(job, making.builds, over, making.rough, making.costs, now.cost)
        least = stretch.least_margin(_always(now.figures.unit_price))
        if_kept = None
        if before is not None and listed is not None:
            if_kept = stretch.least_margin(listed.price_at)
        told.append(_Break(job, now, before, least, if_kept))
    return told


def _always(unit_price: Decimal) -> Callable[[int], Decimal]:
    return lambda _: unit_price


def _nets(listed: Listed | None, prices: list[ListedBreak]) -> list[Move]:
    """Compare net prices: where only the tax changed, what is shown stays and the net moves."""
    before = {} if listed is None else {b.from_quantity: b.unit_price_net for b in listed.breaks}
    return moves_between(before, {b.from_quantity: b.unit_price_net for b in prices})


def _effects(offered: Offered, listed: Listed | None, breaks: list[_Break]) -> list[Effects]:
    """Split what moved each break that had a price."""
    before = {b.now.quantity: b.before for b in breaks if b.before is not None}
    if listed is None or not before:
        return [NO_EFFECTS for _ in breaks]
    same_breaks = [b.now.quantity for b in breaks] == [b.from_quantity for b in listed.breaks]
    split = effects_on(
        offered,
        listed.moved,
        [*before],
        [Figures(b.unit_cost, b.unit_price) for b in before.values()],
        [b.now.figures for b in breaks if b.before is not None],
        is_as_described=listed.is_as_described and same_breaks,
    )
    effects = dict(zip(before, split, strict=True))
    return [effects.get(b.now.quantity, NO_EFFECTS) for b in breaks]


def _floor(offered: Offered, job: Job) -> Decimal | None:
    own = offered.listing.margin_floor_pct
    return job.channel.margin_floor_pct if own is UNSET else own


def _is_under(floor: Decimal | None, least: Sequence[Least | None]) -> bool:
    return floor is not None and any(
        each is not None and each.profit * PERCENT < floor * each.net for each in least
    )


def _price(b: _Break) -> ListedBreak:
    settled = b.now.priced.settled
    return ListedBreak(
        from_quantity=b.now.quantity,
        unit_price=settled.unit_price,
        unit_price_net=unit_price_net(settled.goods_net, b.now.quantity),
        unit_cost=b.now.figures.unit_cost,
    )


def _told(b: _Break, effects: Effects) -> LineBreak:
    settled, before = b.now.priced.settled, b.before
    as_kept = (
        None if before is None else settled_at(b.job, b.now.quantity, b.now.cost, before.unit_price)
    )
    return LineBreak(
        from_quantity=b.now.quantity,
        old_unit_price=UNSET if before is None else before.unit_price,
        unit_price=settled.unit_price,
        unit_cost_before=UNSET if before is None else before.unit_cost,
        unit_cost=b.now.figures.unit_cost,
        margin_if_kept_pct=UNSET if as_kept is None else margin_pct(as_kept.profit, as_kept.net),
        margin_pct=margin_pct(settled.profit, settled.net),
        least_margin_pct=_margin(b.least),
        least_margin_at=b.now.quantity if b.least is None else b.least.quantity,
        least_margin_if_kept_pct=UNSET if before is None else _margin(b.least_if_kept),
        moved_by=effects.moved_by,
        description=effects.description,
        together=effects.together,
    )


def _margin(least: Least | None) -> Decimal | None:
    return None if least is None else margin_pct(least.profit, least.net)


def written_prices(prices: list[ListedBreak]) -> str:
    """Write prices as they are stored."""
    return json.encode(prices).decode()

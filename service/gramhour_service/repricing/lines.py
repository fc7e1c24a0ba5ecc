"""One listing of a repricing: its new price beside the listed one, and what it comes to."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Literal, NamedTuple

from msgspec import UNSET, json

from gramhour.contract.answer import ListedBreak
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import LineBreak, RepricingLine
from gramhour_service.calculation.arithmetic import as_percentage, costing_arithmetic
from gramhour_service.calculation.breaks import settled_at
from gramhour_service.calculation.builds import builds_of_product
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.rough import RoughCurve
from gramhour_service.calculation.rough_orders import Kept
from gramhour_service.calculation.settle import margin_pct, unit_price_net
from gramhour_service.calculation.stretch import Least, Stretch, stretch_of
from gramhour_service.listings.asked import multiple_sold
from gramhour_service.repricing.effects import Effects, Moved, effects_on
from gramhour_service.repricing.evaluating import (
    Evaluated,
    Figures,
    Offered,
    can_price,
    evaluated,
    job_of,
)
from gramhour_service.repricing.target import Target

Outcome = Literal["new", "up", "down", "unchanged", "held", "failed"]
PERCENT = 100


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


def line_of(offered: Offered, target: Target, listed: Listed | None, kept: Kept) -> Line:
    """Price a listing anew. What cannot be priced is a line that says why.

    ``kept`` has what orders cost beside their making, by the rates of the target.
    """
    name = offered.listing.name
    if name is UNSET:
        name = offered.product.name if offered.product.name is not UNSET else ""
    try:
        with costing_arithmetic():
            return _line(offered, target, listed, kept, name)
    except Refused as refused:
        return _failed(offered, name, refused.faults)


def _failed(offered: Offered, name: str, faults: Sequence[Fault]) -> Line:
    told = RepricingLine(
        sku=offered.sku,
        name=name,
        channel=offered.listing.channel,
        outcome="failed",
        breaks=[],
        errors=list(faults),
    )
    return Line(told, [])


def _line(offered: Offered, target: Target, listed: Listed | None, kept: Kept, name: str) -> Line:
    if not can_price(offered, target):
        detail = "the rates have no longer all that its product and channel name"
        raise Refused("invalid-request", (Fault("", detail),))
    job = job_of(offered, target)
    breaks = _breaks(job, multiple_sold(target.sheet, offered.listing.channel), listed, kept)
    effects = _effects(offered, listed, breaks)
    floor = _floor(offered, job)
    change = _largest_move(breaks)
    outcome = _outcome(offered, breaks, change)
    told = RepricingLine(
        sku=offered.sku,
        name=name,
        channel=offered.listing.channel,
        outcome=outcome,
        change_pct=UNSET if change is None else change,
        under_floor=_is_under(floor, [b.least for b in breaks]),
        under_floor_if_kept=_is_under(floor, [b.least_if_kept for b in breaks]),
        breaks=[_told(b, effect) for b, effect in zip(breaks, effects, strict=True)],
    )
    return Line(told, [_price(b) for b in breaks])


def _breaks(job: Job, multiple: int, listed: Listed | None, kept: Kept) -> list[_Break]:
    made = builds_of_product(job.product, job.rates)
    rough = RoughCurve(job, made, kept)
    told = []
    for quantity, following in zip(job.breaks, (*job.breaks[1:], None), strict=True):
        now = evaluated(job, made, quantity)
        before = None if listed is None else listed.at(quantity)
        over = stretch_of(quantity, following, multiple)
        stretch = Stretch(job, made, over, rough, {quantity: now.cost})
        least = stretch.least_margin(now.priced.settled.unit_price)
        if_kept = None if before is None else stretch.least_margin(before.unit_price)
        told.append(_Break(job, now, before, least, if_kept))
    return told


def _effects(offered: Offered, listed: Listed | None, breaks: list[_Break]) -> list[Effects]:
    """Split what moved each break that had a price."""
    if listed is None or any(b.before is None for b in breaks):
        return [Effects([], UNSET, UNSET) for _ in breaks]
    quantities = [b.now.quantity for b in breaks]
    before = [b.before for b in breaks if b.before is not None]
    same_breaks = quantities == [b.from_quantity for b in before]
    return effects_on(
        offered,
        listed.moved,
        quantities,
        [Figures(b.unit_cost, b.unit_price) for b in before],
        [b.now.figures for b in breaks],
        is_as_described=listed.is_as_described and same_breaks,
    )


def _floor(offered: Offered, job: Job) -> Decimal | None:
    own = offered.listing.margin_floor_pct
    return job.channel.margin_floor_pct if own is UNSET else own


def _is_under(floor: Decimal | None, least: Sequence[Least | None]) -> bool:
    return floor is not None and any(
        each is not None and each.profit * PERCENT < floor * each.net for each in least
    )


def _largest_move(breaks: list[_Break]) -> Decimal | None:
    """Say by how many per cent the price moves that moves most; none without a listed price."""
    moves = [
        (b.now.priced.settled.unit_price - b.before.unit_price) * PERCENT / b.before.unit_price
        for b in breaks
        if b.before is not None and b.before.unit_price
    ]
    return as_percentage(max(moves, key=abs)) if moves else None


def _outcome(offered: Offered, breaks: list[_Break], change: Decimal | None) -> Outcome:
    moves = [
        b.now.priced.settled.unit_price - b.before.unit_price if b.before is not None else None
        for b in breaks
    ]
    if all(move is None for move in moves):
        return "new"
    if offered.listing.hold is True:
        return "held"
    least = offered.listing.least_change
    worth_making = Decimal(0) if least is UNSET else least
    if all(move is not None and (not move or abs(move) < worth_making) for move in moves):
        return "unchanged"
    largest = max((move for move in moves if move is not None), key=abs)
    return "down" if largest < 0 or (change is not None and change < 0) else "up"


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

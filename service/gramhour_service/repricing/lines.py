"""One listing of a repricing: its new price beside the listed one, and what it comes to."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET, json

from gramhour.contract.answer import ListedBreak
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import LineBreak, RepricingLine
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.settle import Settled, margin_pct, unit_price_net
from gramhour_service.calculation.stretch import Least
from gramhour_service.repricing.effects import NO_EFFECTS, Effects, Moved, effects_on
from gramhour_service.repricing.evaluating import Figures, Makings, Offered, Sold, can_price
from gramhour_service.repricing.least import Shown, least_margins
from gramhour_service.repricing.moves import PERCENT, Move, largest_pct, moves_between, outcome_of


class Listed(NamedTuple):
    """The price of a listing as it stands: its breaks, and the rates they came from."""

    breaks: list[ListedBreak]
    moved: Moved
    is_as_described: bool

    @property
    def shown(self) -> Shown:
        """Its unit prices."""
        return Shown(
            [each.from_quantity for each in self.breaks],
            [each.unit_price for each in self.breaks],
        )

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
    """A break priced, the listed one settled anew, and the least margins of both prices."""

    quantity: int
    figures: Figures
    settled: Settled
    before: ListedBreak | None
    as_kept: Settled | None
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
    sold = makings.sold(offered)
    breaks = _breaks(sold, listed)
    effects = _effects(offered, listed, breaks)
    floor = _floor(offered, sold)
    before = {} if listed is None else {b.from_quantity: b.unit_price for b in listed.breaks}
    moves = moves_between(before, {b.quantity: b.figures.unit_price for b in breaks})
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


def _breaks(sold: Sold, listed: Listed | None) -> list[_Break]:
    quantities = sold.selling.job.breaks
    figures = [sold.figures(quantity) for quantity in quantities]
    least = least_margins(sold, Shown(quantities, [each.unit_price for each in figures]))
    if_kept: list[Least | None] = [None] * len(quantities)
    if listed is not None:
        if_kept = least_margins(sold, listed.shown)
    told = []
    for n, quantity in enumerate(quantities):
        before = None if listed is None else listed.at(quantity)
        told.append(
            _Break(
                quantity=quantity,
                figures=figures[n],
                settled=sold.settled(quantity, figures[n].unit_price),
                before=before,
                as_kept=None if before is None else sold.settled(quantity, before.unit_price),
                least=least[n],
                least_if_kept=if_kept[n],
            )
        )
    return told


def _nets(listed: Listed | None, prices: list[ListedBreak]) -> list[Move]:
    """Compare net prices: where only the tax changed, what is shown stays and the net moves."""
    before = {} if listed is None else {b.from_quantity: b.unit_price_net for b in listed.breaks}
    return moves_between(before, {b.from_quantity: b.unit_price_net for b in prices})


def _effects(offered: Offered, listed: Listed | None, breaks: list[_Break]) -> list[Effects]:
    """Split what moved each break that had a price."""
    before = {b.quantity: b.before for b in breaks if b.before is not None}
    if listed is None or not before:
        return [NO_EFFECTS for _ in breaks]
    same_breaks = [b.quantity for b in breaks] == [b.from_quantity for b in listed.breaks]
    split = effects_on(
        offered,
        listed.moved,
        [*before],
        [Figures(b.unit_cost, b.unit_price) for b in before.values()],
        [b.figures for b in breaks if b.before is not None],
        is_as_described=listed.is_as_described and same_breaks,
    )
    effects = dict(zip(before, split, strict=True))
    return [effects.get(b.quantity, NO_EFFECTS) for b in breaks]


def _floor(offered: Offered, sold: Sold) -> Decimal | None:
    own = offered.listing.margin_floor_pct
    return sold.selling.job.channel.margin_floor_pct if own is UNSET else own


def _is_under(floor: Decimal | None, least: Sequence[Least | None]) -> bool:
    return floor is not None and any(
        each is not None and each.profit * PERCENT < floor * each.net for each in least
    )


def _price(b: _Break) -> ListedBreak:
    return ListedBreak(
        from_quantity=b.quantity,
        unit_price=b.settled.unit_price,
        unit_price_net=unit_price_net(b.settled.goods_net, b.quantity),
        unit_cost=b.figures.unit_cost,
    )


def _told(b: _Break, effects: Effects) -> LineBreak:
    before, kept = b.before, b.as_kept
    return LineBreak(
        from_quantity=b.quantity,
        old_unit_price=UNSET if before is None else before.unit_price,
        unit_price=b.settled.unit_price,
        unit_cost_before=UNSET if before is None else before.unit_cost,
        unit_cost=b.figures.unit_cost,
        margin_if_kept_pct=UNSET if kept is None else margin_pct(kept.profit, kept.net),
        margin_pct=margin_pct(b.settled.profit, b.settled.net),
        least_margin_pct=_margin(b.least),
        least_margin_at=b.quantity if b.least is None else b.least.quantity,
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

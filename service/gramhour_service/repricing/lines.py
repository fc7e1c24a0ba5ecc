"""One listing of a repricing: its new price beside the listed one, and what it comes to."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.listed import ListedBreak
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import LineBreak, RepricingLine
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.calculation.settle import margin_pct, unit_price_net
from gramhour_service.calculation.stretch import Least
from gramhour_service.repricing.effects import NO_EFFECTS, Effects, Moved, effects_on
from gramhour_service.repricing.evaluating import Figures, Makings, Offered, Sold
from gramhour_service.repricing.least import Shown, least_margins
from gramhour_service.repricing.moves import (
    PERCENT,
    Move,
    largest_pct,
    moves_between,
    outcome_of,
    rises_from_nothing,
)
from gramhour_service.repricing.selling import Selling


class Listed(NamedTuple):
    """The price of a listing as it stands: its breaks, and the rates they came from."""

    breaks: list[ListedBreak]
    moved: Moved
    is_as_described: bool

    @property
    def quantities(self) -> tuple[int, ...]:
        """The quantities that its prices hold from."""
        return tuple([each.from_quantity for each in self.breaks])

    @property
    def shown(self) -> Shown:
        """Its unit prices."""
        return Shown(self.quantities, [each.unit_price for each in self.breaks])

    def at(self, quantity: int) -> ListedBreak | None:
        """Find the break that a quantity takes its price from."""
        return max(
            (each for each in self.breaks if each.from_quantity <= quantity),
            key=lambda each: each.from_quantity,
            default=None,
        )


class Line(NamedTuple):
    """A line as it is told, the prices that applying it would list, and if one was 0 so far."""

    told: RepricingLine
    prices: list[ListedBreak]
    from_nothing: bool = False


class PricedBreak(NamedTuple):
    """A break priced, what is listed, and the margins of both prices, as they are shown."""

    quantity: int
    figures: Figures
    unit_price_net: Decimal
    margin_pct: Decimal | None
    least_margin_pct: Decimal | None
    least_margin_at: int
    before: ListedBreak | None
    margin_if_kept_pct: Decimal | None
    least_margin_if_kept_pct: Decimal | None


def line_of(offered: Offered, makings: Makings, listed: Listed | None) -> Line:
    """Price a listing anew. What cannot be priced is a line that says why."""
    try:
        with costing_arithmetic():
            return _line(offered, makings, listed)
    except Refused as refused:
        return _failed(offered, refused.faults)
    except CannotBePriced as error:  # at a quantity that a price holds for, beyond the breaks
        return _failed(offered, (Fault(error.pointer, error.detail),))


def name_of(offered: Offered) -> str:
    """Say the name of a listing, else of its product."""
    names = (offered.listing.name, offered.product.name)
    return next((name for name in names if name is not UNSET), "")


def _failed(offered: Offered, faults: Sequence[Fault]) -> Line:
    told = RepricingLine(
        sku=offered.sku,
        name=name_of(offered),
        channel=offered.listing.channel,
        outcome="failed",
        breaks=[],
        errors=list(faults),
    )
    return Line(told, [])


def _line(offered: Offered, makings: Makings, listed: Listed | None) -> Line:
    if not makings.can_price(offered):
        detail = "the rates have no longer all that its product and channel name"
        raise Refused("invalid-request", (Fault("", detail),))
    sold = makings.sold(offered)
    quantities, floor = sold.selling.job.breaks, floor_of(offered, sold.selling)
    figures = [sold.figures(quantity) for quantity in quantities]
    least = least_margins(sold, Shown(quantities, [each.unit_price for each in figures]))
    if_kept: list[Least | None] = [None] * len(quantities)
    if listed is not None:
        if_kept = least_margins(sold, listed.shown)
    breaks = [
        _priced(sold, listed, *each)
        for each in zip(quantities, figures, least, if_kept, strict=True)
    ]
    return _told_line(
        offered, listed, breaks, is_under=_is_under(floor, least), if_kept=_is_under(floor, if_kept)
    )


def _priced(
    sold: Sold,
    listed: Listed | None,
    quantity: int,
    figures: Figures,
    least: Least | None,
    least_if_kept: Least | None,
) -> PricedBreak:
    """Settle a break's new price, and the listed one anew."""
    settled = sold.settled(quantity, figures.unit_price)
    before = None if listed is None else listed.at(quantity)
    kept = None if before is None else sold.settled(quantity, before.unit_price)
    return PricedBreak(
        quantity=quantity,
        figures=figures,
        unit_price_net=unit_price_net(settled.goods_net, quantity),
        margin_pct=margin_pct(settled.profit, settled.net),
        least_margin_pct=_margin(least),
        least_margin_at=quantity if least is None else least.quantity,
        before=before,
        margin_if_kept_pct=None if kept is None else margin_pct(kept.profit, kept.net),
        least_margin_if_kept_pct=_margin(least_if_kept),
    )


def _told_line(
    offered: Offered,
    listed: Listed | None,
    breaks: list[PricedBreak],
    *,
    is_under: bool,
    if_kept: bool,
) -> Line:
    """Tell a listing whose breaks are priced, and whether the new and the listed price are under
    its floor.
    """
    effects = _effects(offered, listed, breaks)
    before = {} if listed is None else {b.from_quantity: b.unit_price for b in listed.breaks}
    moves = moves_between(before, {b.quantity: b.figures.unit_price for b in breaks})
    prices = [_price(b) for b in breaks]
    told = RepricingLine(
        sku=offered.sku,
        name=name_of(offered),
        channel=offered.listing.channel,
        outcome=outcome_of(offered.listing, moves, lambda: _nets(listed, prices)),
        change_pct=largest_pct(moves),
        under_floor=is_under,
        under_floor_if_kept=if_kept,
        breaks=[_told(b, effect) for b, effect in zip(breaks, effects, strict=True)],
    )
    return Line(told, prices, rises_from_nothing(moves))


def _nets(listed: Listed | None, prices: list[ListedBreak]) -> list[Move]:
    """Compare net prices: where only the tax changed, what is shown stays and the net moves."""
    before = {} if listed is None else {b.from_quantity: b.unit_price_net for b in listed.breaks}
    return moves_between(before, {b.from_quantity: b.unit_price_net for b in prices})


def _effects(offered: Offered, listed: Listed | None, breaks: list[PricedBreak]) -> list[Effects]:
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


def floor_of(offered: Offered, selling: Selling) -> Decimal | None:
    """Say what a margin must not be below: the listing's own floor, else its channel's."""
    own = offered.listing.margin_floor_pct
    return selling.job.channel.margin_floor_pct if own is UNSET else own


def _is_under(floor: Decimal | None, least: Sequence[Least | None]) -> bool:
    return floor is not None and any(
        each is not None and each.profit * PERCENT < floor * each.net for each in least
    )


def _price(b: PricedBreak) -> ListedBreak:
    return ListedBreak(
        from_quantity=b.quantity,
        unit_price=b.figures.unit_price,
        unit_price_net=b.unit_price_net,
        unit_cost=b.figures.unit_cost,
    )


def _told(b: PricedBreak, effects: Effects) -> LineBreak:
    before = b.before
    return LineBreak(
        from_quantity=b.quantity,
        old_unit_price=UNSET if before is None else before.unit_price,
        unit_price=b.figures.unit_price,
        unit_cost_before=UNSET if before is None else before.unit_cost,
        unit_cost=b.figures.unit_cost,
        margin_if_kept_pct=UNSET if before is None else b.margin_if_kept_pct,
        margin_pct=b.margin_pct,
        least_margin_pct=b.least_margin_pct,
        least_margin_at=b.least_margin_at,
        least_margin_if_kept_pct=UNSET if before is None else b.least_margin_if_kept_pct,
        moved_by=effects.moved_by,
        description=effects.description,
        together=effects.together,
    )


def _margin(least: Least | None) -> Decimal | None:
    return None if least is None else margin_pct(least.profit, least.net)

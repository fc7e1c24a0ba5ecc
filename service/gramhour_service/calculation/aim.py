"""What a price is to reach."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation.job import Aim, Channel, GivenPrice, MarginAim, MarkupAim
from gramhour_service.calculation.rules import rule


@rule
def margin_break(breaks: Sequence[tuple[int, MarginAim]], quantity: int) -> MarginAim | None:
    """A channel's margin break with the highest from_quantity not above the quantity counts."""
    open_breaks = [entry for entry in breaks if entry[0] <= quantity]
    return max(open_breaks, key=lambda entry: entry[0])[1] if open_breaks else None


@rule
def aim_at(asked: Aim | None, channel: Channel, quantity: int) -> Aim | None:
    """The aim is the request's; else the channel's margin break; else the channel's own."""
    return asked or margin_break(channel.margin_breaks, quantity) or channel.aim


def aim_is_met(aim: Aim, profit: Decimal, net: Decimal, cost: Decimal) -> bool:
    """An aim is met if the profit is at least its part of the net (margin) or the cost (markup)."""
    match aim:
        case MarginAim(margin_pct):
            return profit * 100 >= margin_pct * net
        case MarkupAim(markup_pct):
            return profit * 100 >= markup_pct * cost
        case GivenPrice():
            return True

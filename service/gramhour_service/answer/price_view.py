"""The price view: what a customer may see of a quote, member by member, and nothing else."""

from typing import get_args

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Basis, Break, PriceBreak, PriceFlag, PriceQuote, Quote
from gramhour.contract.lead_time import PriceLeadTime
from gramhour_service.resolve.unlikely import UNLIKELY

TOLD = frozenset(get_args(PriceFlag))
OWN_RATES = ("/rates/", "/rate_overrides/")


def price_view(quote: Quote) -> PriceQuote:
    """Tell of a quote what a customer may see; of its basis, what the request itself said."""
    return PriceQuote(
        currency=quote.currency,
        valid_until=quote.valid_until,
        at_quantity=_break(quote.at_quantity),
        breaks=[_break(each) for each in quote.breaks],
        lead_time=_lead_time(quote),
        basis=_basis(quote.basis),
        cautions=[each for each in quote.cautions if each.hazard != UNLIKELY],
        seal=quote.seal,
    )


def _basis(basis: list[Basis]) -> list[Basis]:
    """Tell what the request said, and of an estimate that it is one; nothing of the rates."""
    return [
        Basis(pointer=each.pointer, basis=each.basis) if each.basis == "estimated" else each
        for each in basis
        if not each.pointer.startswith(OWN_RATES)
    ]


def _lead_time(quote: Quote) -> PriceLeadTime | UnsetType | None:
    told = quote.lead_time
    return PriceLeadTime(ready_on=told.ready_on) if told is not None and told is not UNSET else told


def _break(each: Break) -> PriceBreak:
    return PriceBreak(
        quantity=each.quantity,
        unit_price=each.unit_price,
        unit_price_net=each.unit_price_net,
        order_goods=each.order_goods,
        order_postage=each.order_postage,
        order_net=each.order_net,
        order_tax=each.order_tax,
        order_gross=each.order_gross,
        flags=[flag for flag in each.flags if flag in TOLD],
    )

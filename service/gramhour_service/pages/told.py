"""A price answer in the words of a page: what is paid, when it is ready, what to look at.

Nothing is computed: lines are the answer's own amounts, and only days are compared.
"""

import hashlib
from datetime import date
from decimal import Decimal
from typing import NamedTuple

import msgspec
from markupsafe import Markup
from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract.answer import PriceBreak, PriceQuote
from gramhour_service.pages.drawing.curve import Curve, Step, price_curve

FLAGS = {
    "minimum_order_applied": "Orders have a minimum here, and this one comes below it: the minimum "
    "is charged.",
    "above_smaller_break": "One costs more at this quantity than at a smaller one.",
}


class Line(NamedTuple):
    """A line of the bill."""

    says: str
    amount: Decimal
    is_total: bool = False


class Told(NamedTuple):
    """A quote, ready to be put into a page."""

    quote: PriceQuote
    name: str
    lines: tuple[Line, ...]
    drawing: Markup
    remarks: tuple[str, ...]
    less_in_all: PriceBreak | None
    ready: "Ready | None"

    @property
    def seal(self) -> str | None:
        """The price as signed characters, if it was sealed."""
        return None if self.quote.seal is UNSET else self.quote.seal

    @property
    def reference(self) -> str:
        """Name the quotation by what it says: the same one has the same reference."""
        said = (self.name, replace(self.quote, seal=UNSET))
        digest = hashlib.sha256(msgspec.json.encode(said)).hexdigest()[:8]
        return f"{digest[:4]}-{digest[4:]}".upper()


class Ready(NamedTuple):
    """When it is ready: the day, if one can be named, and whether that is in time."""

    on: date | None
    wanted_by: date | None

    @property
    def is_late(self) -> bool:
        """Say whether it is ready later than it is wanted."""
        return None not in (self.on, self.wanted_by) and self.on > self.wanted_by  # type: ignore[operator]


def told_of(
    quote: PriceQuote, name: str, wanted_by: date | None, *, includes_tax: bool, holds: bool
) -> Told:
    """Tell a quote; ``holds`` says that a price holds from its break up to the next one."""
    at = quote.at_quantity
    return Told(
        quote=quote,
        name=name,
        lines=lines_of(at, includes_tax=includes_tax),
        drawing=price_curve(_curve(quote, holds=holds)),
        remarks=tuple(FLAGS[flag] for flag in at.flags if flag in FLAGS),
        less_in_all=_less_in_all(quote),
        ready=_ready(quote, wanted_by),
    )


def lines_of(at: PriceBreak, *, includes_tax: bool) -> tuple[Line, ...]:
    """List what is paid: with tax inside the prices, or put on top of them."""
    goods, postage = Line("Goods", at.order_goods), Line("Postage", at.order_postage)
    tax, total = Line("Tax", at.order_tax), Line("Total to pay", at.order_gross, is_total=True)
    if includes_tax:
        return (goods, postage, total, tax._replace(says="of which tax"))
    return (goods, postage, Line("Before tax", at.order_net), tax, total)


def _curve(quote: PriceQuote, *, holds: bool) -> Curve:
    asked = quote.at_quantity
    steps = {each.quantity: Step(each.quantity, each.unit_price) for each in quote.breaks}
    if not holds or not steps:
        steps[asked.quantity] = Step(asked.quantity, asked.unit_price)
    return Curve(
        currency=quote.currency,
        steps=[steps[quantity] for quantity in sorted(steps)],
        asked=Step(asked.quantity, asked.unit_price),
        marked=frozenset(each.quantity for each in quote.breaks),
        holds=holds,
    )


def _less_in_all(quote: PriceQuote) -> PriceBreak | None:
    """Find the larger quantity that costs less in all, if the answer says that there is one."""
    if "next_total_is_lower" not in quote.at_quantity.flags:
        return None
    larger = [each for each in quote.breaks if each.quantity > quote.at_quantity.quantity]
    return min(larger, key=lambda each: each.quantity, default=None)


def _ready(quote: PriceQuote, wanted_by: date | None) -> Ready | None:
    lead_time = quote.lead_time
    if lead_time is UNSET:
        return None
    return Ready(None if lead_time is None else lead_time.ready_on, wanted_by)

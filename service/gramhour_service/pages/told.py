"""A price answer in the words of a page: what is paid, when it is ready, what to look at.

Nothing is computed: lines are the answer's own amounts, and only days are compared.
"""

import hashlib
from collections.abc import Collection, Iterable
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
    breaks: tuple[PriceBreak, ...]
    drawing: Markup
    remarks: tuple[str, ...]
    less_in_all: PriceBreak | None
    ready: "Ready | None"
    holds: bool
    includes_tax: bool
    sku: str

    @property
    def reached(self) -> int | None:
        """Say which of the quantities told has the price that is asked for, if one has."""
        asked = self.quote.at_quantity.quantity
        if not self.holds:
            return asked
        return max((n for each in self.breaks if (n := each.quantity) <= asked), default=None)

    @property
    def is_estimated(self) -> bool:
        """Say whether what it takes was estimated from a file."""
        return any(each.basis == "estimated" for each in self.quote.basis)

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
    quote: PriceQuote,
    name: str,
    wanted_by: date | None,
    *,
    includes_tax: bool,
    marked: Collection[int] | None = None,
    sku: str = "",
) -> Told:
    """Tell a quote of what is listed, where a price holds from its break up to the next one.

    With ``marked`` quantities a price holds at its quantity only; those are named, and the others
    say where the curve goes.
    """
    at = quote.at_quantity
    shown = [each for each in quote.breaks if marked is None or each.quantity in marked]
    return Told(
        quote=quote,
        name=name,
        lines=lines_of(at, includes_tax=includes_tax),
        breaks=tuple(shown),
        drawing=price_curve(_curve(quote, shown, holds=marked is None)),
        remarks=tuple(FLAGS[flag] for flag in at.flags if flag in FLAGS),
        less_in_all=_less_in_all(quote, shown),
        ready=_ready(quote, wanted_by),
        holds=marked is None,
        includes_tax=includes_tax,
        sku=sku,
    )


def lines_of(at: PriceBreak, *, includes_tax: bool) -> tuple[Line, ...]:
    """List what is paid: with tax inside the prices, or put on top of them."""
    goods, postage = Line("Goods", at.order_goods), Line("Postage", at.order_postage)
    tax, total = Line("Tax", at.order_tax), Line("Total to pay", at.order_gross, is_total=True)
    if includes_tax:
        return (goods, postage, total, tax._replace(says="of which tax"))
    return (goods, postage, Line("Before tax", at.order_net), tax, total)


def _curve(quote: PriceQuote, shown: Iterable[PriceBreak], *, holds: bool) -> Curve:
    asked = quote.at_quantity
    steps = {each.quantity: Step(each.quantity, each.unit_price) for each in quote.breaks}
    if not holds or not steps:
        steps[asked.quantity] = Step(asked.quantity, asked.unit_price)
    return Curve(
        currency=quote.currency,
        steps=[steps[quantity] for quantity in sorted(steps)],
        asked=Step(asked.quantity, asked.unit_price),
        marked=frozenset(each.quantity for each in shown),
        holds=holds,
    )


def _less_in_all(quote: PriceQuote, shown: Iterable[PriceBreak]) -> PriceBreak | None:
    """Find the next larger quantity, where it costs less in all."""
    at = quote.at_quantity
    larger = [each for each in shown if each.quantity > at.quantity]
    following = min(larger, key=lambda each: each.quantity, default=None)
    if following is None or following.order_gross >= at.order_gross:
        return None
    return following


def _ready(quote: PriceQuote, wanted_by: date | None) -> Ready | None:
    lead_time = quote.lead_time
    if lead_time is UNSET:
        return None
    return Ready(None if lead_time is None else lead_time.ready_on, wanted_by)

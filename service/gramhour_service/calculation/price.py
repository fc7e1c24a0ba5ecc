"""From cost to price: the smallest allowed price at which the aim is met."""

import math
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.aim import aim_is_met
from gramhour_service.calculation.arithmetic import (
    ONE,
    ZERO,
    CannotBePriced,
    half_even,
    half_up,
)
from gramhour_service.calculation.job import Aim, Channel, GivenPrice, MarginAim, MarkupAim
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.settle import Sale, Settled, net_of_tax, settle
from gramhour_service.calculation.worked import called

LEAST_LEFT = Decimal("0.01")
MOST_STEPS = 100_000
"""Rounding asks for some thousand steps at the worst (D 0.01, tax 1000 %, one unit)."""


class Priced(NamedTuple):
    """An order with its price, the rule that shows it, and the raw price it was solved from.

    ``raw_price`` is None where the price was given.
    """

    settled: Settled
    price_rule: str
    raw_price: Decimal | None


@rule
def share_left(margin_share: Decimal, design_share: Decimal, channel: Channel) -> Decimal:
    """Of a net price of one, margin, designer and fees (on price and tax) leave D for the cost."""
    fees = (channel.fee_share + channel.payment_share) * (1 + channel.tax_share)
    return ONE - margin_share - design_share - fees


@rule
def cost_with_markup(cost: Decimal, markup_pct: Decimal) -> Decimal:
    """A markup is on the cost."""
    return cost * (100 + markup_pct) / 100


@rule
def net_price(
    cost: Decimal, fixed: Decimal, postage_net: Decimal, left: Decimal, design_share: Decimal
) -> Decimal:
    """The goods' net price is cost and fixed fees less what postage brings, over D."""
    return (cost + fixed - postage_net * (left + design_share)) / left


@rule
def raw_shown_price(net: Decimal, units: int, channel: Channel) -> Decimal:
    """The raw unit price is the net price of the goods by units, with the tax if shown so."""
    shown = net * (1 + channel.tax_share) if channel.prices_include_tax else net
    return half_even(shown / units, 8)


@rule
def first_allowed_step(raw_price: Decimal, step: Decimal, ending: Decimal) -> int:
    """Allowed prices are whole steps plus the ending, above 0; none below the raw one is."""
    steps = max(0, math.ceil((raw_price - ending) / step))
    return steps if steps * step + ending > 0 else steps + 1


@rule
def price_of_step(steps: int, step: Decimal, ending: Decimal) -> Decimal:
    """A shown price is a whole number of price steps plus the ending."""
    return steps * step + ending


@rule
def discounted(price: Decimal, discount_share: Decimal, digits: int) -> Decimal:
    """A discount comes off the price, to the minor unit; the result need not be an allowed one."""
    return half_up(price * (1 - discount_share), digits)


def raw_price(sale: Sale, aim: MarginAim | MarkupAim) -> Decimal:
    """Solve for the unit price at which the aim is met before any rounding.

    Raises ``CannotBePriced`` if margin, designer and fees leave less than 1 % of a price.
    """
    channel, share = sale.channel, sale.design_share
    if isinstance(aim, MarginAim):
        margin, cost = aim.margin_pct / 100, sale.cost
    else:
        margin, cost = ZERO, cost_with_markup(sale.cost, aim.markup_pct)
    left = share_left(margin, share, channel)
    if left < LEAST_LEFT:
        raise CannotBePriced("/aim", _what_leaves_nothing(margin, sale))
    fixed = sale.fixed + sale.postage.cost
    postage_net = net_of_tax(sale.postage.charged, channel)
    net = net_price(cost, fixed, postage_net, called(left, "share_left"), share)
    return raw_shown_price(called(net, "net_price_of_goods"), sale.units, channel)


def _what_leaves_nothing(margin: Decimal, sale: Sale) -> str:
    channel = sale.channel
    shares = {
        "margin": margin,
        "the designer's share": sale.design_share,
        "channel fee": channel.fee_share * (1 + channel.tax_share),
        "payment fee": channel.payment_share * (1 + channel.tax_share),
    }
    parts = ", ".join(f"{name} {100 * part:.2f} %" for name, part in shares.items() if part)
    return f"no price reaches this aim: of the net price {parts} leave less than 1 % for the cost"


@rule
def given_price(unit_price: Decimal) -> Decimal:
    """A given unit price is taken as shown; nothing is solved."""
    return unit_price


@rule
def smallest_allowed_price(sale: Sale, aim: MarginAim | MarkupAim, raw: Decimal) -> Settled:
    """The price is the smallest allowed one, not below the raw one, that meets the aim.

    Met as computed back: the rounding of tax and fees can ask for a step or two more.
    """
    step, ending = sale.channel.price_step, sale.channel.price_ending
    first = first_allowed_step(raw, step, ending)
    for steps in range(first, first + MOST_STEPS):
        price = half_up(price_of_step(steps, step, ending), sale.digits)
        settled = settle(sale, price)
        if aim_is_met(aim, settled.profit, settled.net, sale.cost):
            return settled
    raise AssertionError("the profit grows with the price, so some step meets the aim")


def solve(sale: Sale, aim: Aim, discount_share: Decimal) -> Priced:
    """Find the shown price for an aim, take the discount off it, and settle the order."""
    if isinstance(aim, GivenPrice):
        raw, rule_used = None, "given_price"
        settled = settle(sale, half_up(given_price(aim.unit_price), sale.digits))
    else:
        raw, rule_used = raw_price(sale, aim), "smallest_allowed_price"
        settled = smallest_allowed_price(sale, aim, raw)
    if discount_share:
        rule_used = "discounted"
        settled = settle(sale, discounted(settled.unit_price, discount_share, sale.digits))
    return Priced(settled, rule_used, raw)

"""From cost to price, and back: the smallest allowed price at which the aim is met."""

import math
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.aim import aim_is_met
from gramhour_service.calculation.arithmetic import (
    ONE,
    ZERO,
    CannotBePriced,
    as_line,
    as_percentage,
    half_even,
    half_up,
)
from gramhour_service.calculation.fees import (
    Fees,
    channel_fee,
    design_share_fee,
    fixed_fees,
    payment_fee,
    total_fees,
)
from gramhour_service.calculation.job import Aim, Channel, GivenPrice, MarginAim, MarkupAim
from gramhour_service.calculation.postage import Postage, postage
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called, standing

LEAST_LEFT = Decimal("0.01")
MOST_STEPS = 100_000
"""Rounding asks for some hundred steps at the worst; more would be a mistake of ours."""


class Sale(NamedTuple):
    """What a price is made for: so many units on a channel, at a cost, with its postage."""

    units: int
    cost: Decimal
    channel: Channel
    postage: Postage
    design_share: Decimal
    digits: int


class Settled(NamedTuple):
    """An order computed back from its shown unit price, in the minor unit; profit 4 decimals."""

    unit_price: Decimal
    goods: Decimal
    goods_net: Decimal
    postage_charged: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    fees: Fees
    profit: Decimal
    minimum_applied: bool


class Priced(NamedTuple):
    """An order with its price, the rule that shows it, and the raw price it was solved from.

    ``raw_price`` is None where the price was given.
    """

    settled: Settled
    price_rule: str
    raw_price: Decimal | None


@rule
def net_of_tax(amount: Decimal, channel: Channel) -> Decimal:
    """Where prices include tax, what is shown holds the tax; else what is shown is net."""
    return amount / (1 + channel.tax_share) if channel.prices_include_tax else amount


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
def net_price(cost: Decimal, fixed: Decimal, postage_net: Decimal, left: Decimal, design_share: Decimal) -> Decimal:
    """The net price of the goods is cost and fixed fees less what postage brings, over D."""
    return (cost + fixed - postage_net * (left + design_share)) / left


@rule
def raw_shown_price(net: Decimal, units: int, channel: Channel) -> Decimal:
    """The raw unit price is the net price of the goods by units, with the tax if shown so."""
    shown = net * (1 + channel.tax_share) if channel.prices_include_tax else net
    return half_even(shown / units, 8)


@rule
def first_allowed_step(raw_price: Decimal, step: Decimal, ending: Decimal) -> int:
    """Allowed prices are whole steps plus the ending, above 0; the first is not below the raw one."""
    steps = max(0, math.ceil((raw_price - ending) / step))
    return steps if steps * step + ending > 0 else steps + 1


@rule
def price_of_step(steps: int, step: Decimal, ending: Decimal) -> Decimal:
    """A shown price is a whole number of price steps plus the ending."""
    return steps * step + ending


@rule
def discounted(price: Decimal, discount_share: Decimal, digits: int) -> Decimal:
    """A discount comes off the price, rounded to the minor unit; it need not be an allowed price."""
    return half_up(price * (1 - discount_share), digits)


@rule
def goods_value(unit_price: Decimal, units: int, minimum_order: Decimal) -> Decimal:
    """The goods are the unit price times the units, at least the channel's minimum order."""
    goods = unit_price * units
    return minimum_order if minimum_order > goods else goods


@rule
def order_net(goods: Decimal, charged: Decimal, channel: Channel, digits: int) -> Decimal:
    """The order's net is goods and postage charged, without the tax that they include."""
    return half_up(net_of_tax(goods + charged, channel), digits)


@rule
def order_tax(goods: Decimal, charged: Decimal, net: Decimal, channel: Channel, digits: int) -> Decimal:
    """Tax is what the shown sum holds beyond the net, or comes on top of it."""
    if channel.prices_include_tax:
        return standing(goods + charged - net)
    return half_up(net * channel.tax_share, digits)


@rule
def order_gross(net: Decimal, tax: Decimal) -> Decimal:
    """The buyer pays net and tax."""
    return standing(net + tax)


@rule
def order_profit(net: Decimal, cost: Decimal, fees: Decimal) -> Decimal:
    """Profit is what cost and fees leave of the net."""
    return standing(net - cost - fees)


def settle(sale: Sale, unit_price: Decimal) -> Settled:
    """Compute an order back from its shown unit price."""
    channel, digits = sale.channel, sale.digits
    minimum = channel.minimum_order
    goods = half_up(goods_value(unit_price, sale.units, minimum), digits)
    charged = half_up(sale.postage.charged, digits)
    net = order_net(goods, charged, channel, digits)
    tax = order_tax(goods, charged, net, channel, digits)
    gross = order_gross(net, tax)
    goods_net = half_up(net_of_tax(goods, channel), digits)
    fees = _fees(sale, gross, goods_net)
    return Settled(
        unit_price=unit_price,
        goods=goods,
        goods_net=goods_net,
        postage_charged=charged,
        net=net,
        tax=tax,
        gross=gross,
        fees=fees,
        profit=order_profit(net, sale.cost, fees.total),
        minimum_applied=minimum > unit_price * sale.units,
    )


def _fees(sale: Sale, gross: Decimal, goods_net: Decimal) -> Fees:
    channel, digits = sale.channel, sale.digits
    fees = (
        channel_fee(channel.fee_share, gross, digits),
        payment_fee(channel.payment_share, gross, digits),
        half_up(fixed_fees(channel, sale.units), digits),
        half_up(sale.postage.cost, digits),
        design_share_fee(sale.design_share, goods_net, digits),
    )
    return Fees(*fees, total_fees(*fees))


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
    fixed = fixed_fees(channel, sale.units) + sale.postage.cost
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


@rule
def margin_pct(profit: Decimal, net: Decimal) -> Decimal | None:
    """Margin is profit in per cent of the net; none over zero."""
    return as_percentage(profit * 100 / net) if net else None


@rule
def markup_pct(profit: Decimal, cost: Decimal) -> Decimal | None:
    """Markup is profit in per cent of the cost; none over zero."""
    return as_percentage(profit * 100 / cost) if cost else None


@rule
def unit_price_net(goods_net: Decimal, units: int) -> Decimal:
    """A unit's net price is the goods' net by units."""
    return as_line(goods_net / units)


@rule
def unit_cost(cost: Decimal, units: int) -> Decimal:
    """A unit's cost is the order's by units."""
    return as_line(cost / units)


def sale_of(channel: Channel, units: int, cost: Decimal, design_share: Decimal, digits: int) -> Sale:
    """Put together what a price is made for."""
    return Sale(units, cost, channel, postage(channel.postage, units), design_share, digits)

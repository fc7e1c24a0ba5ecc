"""An order computed back from its shown unit price: goods, tax, fees and what is left."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import as_line, as_percentage, half_up
from gramhour_service.calculation.fees import (
    Fees,
    channel_fee,
    design_share_fee,
    fixed_fees,
    payment_fee,
    total_fees,
)
from gramhour_service.calculation.job import Channel
from gramhour_service.calculation.postage import Postage, postage
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import standing


class Sale(NamedTuple):
    """What a price is made for: units on a channel, their cost, postage and fixed fees.

    ``charged``, ``fixed_fee`` and ``postage_fee`` are in the minor unit, as they are settled.
    """

    units: int
    cost: Decimal
    channel: Channel
    postage: Postage
    fixed: Decimal
    design_share: Decimal
    digits: int
    charged: Decimal
    fixed_fee: Decimal
    postage_fee: Decimal


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


def sale_of(
    channel: Channel, units: int, cost: Decimal, design_share: Decimal, digits: int
) -> Sale:
    """Put together what a price is made for."""
    sent, fixed = postage(channel.postage, units), fixed_fees(channel, units)
    return Sale(
        units=units,
        cost=cost,
        channel=channel,
        postage=sent,
        fixed=fixed,
        design_share=design_share,
        digits=digits,
        charged=half_up(sent.charged, digits),
        fixed_fee=half_up(fixed, digits),
        postage_fee=half_up(sent.cost, digits),
    )


@rule
def net_of_tax(amount: Decimal, channel: Channel) -> Decimal:
    """Where prices include tax, what is shown holds the tax; else what is shown is net."""
    return amount / (1 + channel.tax_share) if channel.prices_include_tax else amount


@rule
def goods_value(unit_price: Decimal, units: int, minimum_order: Decimal) -> Decimal:
    """The goods are the unit price times the units, at least the channel's minimum order."""
    return max(unit_price * units, minimum_order)


@rule
def order_net(goods: Decimal, charged: Decimal, channel: Channel, digits: int) -> Decimal:
    """The order's net is goods and postage charged, without the tax that they include."""
    return half_up(net_of_tax(goods + charged, channel), digits)


@rule
def order_tax(
    goods: Decimal, charged: Decimal, net: Decimal, channel: Channel, digits: int
) -> Decimal:
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
    minimum, charged = channel.minimum_order, sale.charged
    goods = half_up(goods_value(unit_price, sale.units, minimum), digits)
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
        sale.fixed_fee,
        sale.postage_fee,
        design_share_fee(sale.design_share, goods_net, digits),
    )
    return Fees(*fees, total_fees(*fees))


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

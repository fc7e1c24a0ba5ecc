"""What an order loses to others: the channel, the payment, the post and the designer."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import half_up
from gramhour_service.calculation.job import Channel
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import standing


class Fees(NamedTuple):
    """Each fee of an order in the minor unit, and their sum."""

    channel: Decimal
    payment: Decimal
    fixed: Decimal
    postage: Decimal
    design_share: Decimal
    total: Decimal


@rule
def channel_fee(fee_share: Decimal, gross: Decimal, digits: int) -> Decimal:
    """The channel takes its share of all that the buyer pays, tax and postage included."""
    return half_up(fee_share * gross, digits)


@rule
def payment_fee(payment_share: Decimal, gross: Decimal, digits: int) -> Decimal:
    """The payment takes its share of all that the buyer pays, tax and postage included."""
    return half_up(payment_share * gross, digits)


@rule
def fixed_fees(channel: Channel, units: int) -> Decimal:
    """Fixed fees are those an order and those a unit."""
    return channel.fee_per_order + channel.fee_per_unit * units


@rule
def design_share_fee(share: Decimal, goods_net: Decimal, digits: int) -> Decimal:
    """The designer's share is of the goods' net price, without postage."""
    return half_up(share * goods_net, digits)


@rule
def total_fees(
    channel: Decimal, payment: Decimal, fixed: Decimal, postage: Decimal, design_share: Decimal
) -> Decimal:
    """The fees' total is the sum of the fees as rounded."""
    return standing(channel + payment + fixed + postage + design_share)

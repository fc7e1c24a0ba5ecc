"""A product on a channel, resolved once for all requests that describe it alike.

What is resolved of the very same description by the very same sheet is the same, so it is kept
with the sheet, by the description's content: the last ones, and none that is long.
"""

from typing import NamedTuple

from msgspec import UNSET, json

from gramhour.contract.answer import Basis, Caution
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.job import Channel, Product, ShopRates
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.orders import Orders
from gramhour_service.resolve.cautions import cautions_of
from gramhour_service.resolve.measured import OwnPart, packed, resolve_part
from gramhour_service.resolve.members import Members
from gramhour_service.resolve.product import resolve_product
from gramhour_service.resolve.rates import Rates
from gramhour_service.resolve.unlikely import unlikely_numbers

MOST_KEPT = 32
LONGEST_KEPT = 4_000
"""Bytes of a description as JSON: some twenty pieces. All that is kept of one sheet is 10 MB."""

ENCODER = json.Encoder()


class Described(NamedTuple):
    """A product resolved, the channel it is sold on, and what is the same for all its orders.

    ``multiple`` is what the channel sells multiples of. ``basis`` has the defaults used.
    """

    product: Product
    channel: Channel
    multiple: int
    shop: ShopRates
    orders: Orders
    cautions: tuple[Caution, ...]
    basis: tuple[Basis, ...]


def described(request: QuoteRequest, rates: Rates, own: OwnPart | None) -> Described:
    """Resolve what a request describes; faults are noted and stand-ins used in their place.

    ``own`` is the measured part that its product was made of, where it was made of one: such a
    one is not kept.
    """
    if own is not None:
        return _resolved(request, rates, own)
    content = ENCODER.encode(request.product)
    if len(content) > LONGEST_KEPT:
        return _resolved(request, rates, None)
    kept: LastMade[tuple[str, bytes], Described] = rates.once_for_the_shop(
        "described", lambda: LastMade(MOST_KEPT)
    )
    found = kept.found((request.channel, content))
    if found is None:
        found = _resolved(request, rates, None)
        if not rates.notes.faults:
            kept.keep((request.channel, content), found)
    else:
        rates.notes.basis += found.basis
    return found


def _resolved(request: QuoteRequest, rates: Rates, own: OwnPart | None) -> Described:
    notes, code = rates.notes, request.channel
    channel = rates.channel(code)
    if own is None:
        product = resolve_product(Members(request.product, ("product",), notes), rates)
    else:
        product = resolve_part(own, request.product, rates)
        channel = packed(own, channel, rates)
    multiple, shop = rates.members("channels", code).whole("multiple_of"), rates.shop()
    packing = UNSET if own is None else own.service.packing
    return Described(
        product=product,
        channel=channel,
        multiple=multiple,
        shop=shop,
        orders=Orders(product, channel, shop),
        cautions=(
            *cautions_of(request, rates.sheet, packing),
            *unlikely_numbers(request, product, rates, own),
        ),
        basis=tuple(notes.basis),
    )

"""What a listed sku costs whoever asks: the price last applied, never one computed anew."""

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.answer import PriceBreak, PriceQuote
from gramhour.contract.listed import ListedBreak
from gramhour.contract.listing import Listing
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.product import Product
from gramhour.contract.request import ListedRequest, QuoteRequest
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.listed import ListedOrder, listed_orders
from gramhour_service.listings.asked import (
    asked_by,
    listing_as_saved,
    multiple_sold,
    stored_variants,
    variant_listed,
)
from gramhour_service.listings.told import breaks_listed
from gramhour_service.resolve.cautions import cautions_of
from gramhour_service.resolve.days import end_of_validity
from gramhour_service.resolve.members import Notes, defaults_of
from gramhour_service.resolve.rates import Rates
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.store.entries import listed_entry
from gramhour_service.store.prices import PriceChange, price_in_force


class Offer(NamedTuple):
    """A listing that is there, and its price today if it has one."""

    sku: str
    listing: Listing
    product: Product
    price: PriceChange | None

    @property
    def breaks(self) -> list[ListedBreak]:
        """The listed prices by their quantities, in rising order."""
        return [] if self.price is None else breaks_listed(self.price)

    def price_at(self, quantity: int) -> ListedBreak | None:
        """Find the listed price of a quantity: that of the largest break which it reaches."""
        reached = [each for each in self.breaks if each.from_quantity <= quantity]
        return reached[-1] if reached else None


def find_offer(store: Database, sku: str, on: date) -> Offer | None:
    """Find a listing with its price of a day."""
    entry = listed_entry(store, sku)
    if entry is None:
        return None
    listing = listing_as_saved(entry[0])
    described = stored_variants(entry[1])[variant_listed(listing)]
    return Offer(sku, listing, described, price_in_force(store, sku, on))


def unit_price_listed(offer: Offer, asked: ListedRequest, found: Pinned) -> Decimal:
    """Say what a unit costs at the asked quantity.

    Raises ``Refused`` for quantities that are not sold.
    """
    multiple = multiple_sold(found.in_force.sheet, offer.listing.channel)
    return _prices(offer, asked, _breaks(offer, asked), multiple)[asked.quantity]


def listed_quote(offer: Offer, asked: ListedRequest, found: Pinned) -> PriceQuote:
    """Answer what a listed sku costs at the asked quantities, by the channel's rates of today.

    Raises ``Refused`` for quantities that are not sold.
    """
    sheet, channel = found.in_force.sheet, offer.listing.channel
    breaks = _breaks(offer, asked)
    prices = _prices(offer, asked, breaks, multiple_sold(sheet, channel))
    with costing_arithmetic():
        rates = Rates(sheet, Notes(explain=False), kept=found.in_force.kept)
        orders = listed_orders(rates.channel(channel), prices, breaks, rates.digits)
    days: int = defaults_of(QuoteRequest)["valid_days"]
    return PriceQuote(
        currency=sheet.currency,
        valid_until=end_of_validity(found.on, days, sheet),
        at_quantity=_told(orders[asked.quantity]),
        breaks=[_told(orders[quantity]) for quantity in breaks],
        basis=[],
        cautions=list(cautions_of(asked_by(offer.listing, offer.product, sheet), sheet)),
    )


def _breaks(offer: Offer, asked: ListedRequest) -> tuple[int, ...]:
    if asked.breaks is UNSET:
        return tuple(each.from_quantity for each in offer.breaks)
    return tuple(sorted(set(asked.breaks)))


def _prices(
    offer: Offer, asked: ListedRequest, breaks: tuple[int, ...], multiple: int
) -> dict[int, Decimal]:
    """Find the listed price of each quantity. Raises ``Refused`` with every fault found."""
    prices: dict[int, Decimal] = {}
    faults: list[Fault] = []
    places = {asked.quantity: "/quantity"}
    if asked.breaks is not UNSET:
        places |= {each: f"/breaks/{n}" for n, each in enumerate(asked.breaks)}
    for quantity in sorted({asked.quantity, *breaks}):
        place, price = places.get(quantity, "/breaks"), offer.price_at(quantity)
        if quantity % multiple:
            faults.append(Fault(place, f"it is sold in multiples of {multiple}, not {quantity}"))
        elif price is None:
            least = offer.breaks[0].from_quantity
            faults.append(Fault(place, f"it is sold from {least} units on, not {quantity}"))
        else:
            prices[quantity] = price.unit_price
    if faults:
        raise Refused("invalid-request", tuple(faults))
    return prices


def _told(order: ListedOrder) -> PriceBreak:
    settled = order.settled
    return PriceBreak(
        quantity=order.quantity,
        unit_price=settled.unit_price,
        unit_price_net=order.unit_price_net,
        order_goods=settled.goods,
        order_postage=settled.postage_charged,
        order_net=settled.net,
        order_tax=settled.tax,
        order_gross=settled.gross,
        flags=list(order.flags),
    )

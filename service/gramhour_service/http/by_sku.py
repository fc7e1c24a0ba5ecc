"""A quote by sku: the listed price for a buyer; beside a fresh quote for whoever sees costs."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import msgspec
from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract.answer import Break, PriceQuote, Quote
from gramhour.contract.noting import nearest
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.reading import read_listed_request
from gramhour.contract.request import ListedRequest
from gramhour_service.http.asking import Asker
from gramhour_service.http.sealing import is_asked, listed_seal
from gramhour_service.http.shop import Shop
from gramhour_service.listings.offers import (
    Offer,
    find_offer,
    listed_quote,
    unit_price_listed,
)
from gramhour_service.listings.readiness import ready
from gramhour_service.listings.told import told_price
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.sheets.workload import stored_workload
from gramhour_service.store.entries import names_like

DIFFERS = "differs_from_listing"
MOST_SEARCHED = 50


def listed_price(shop: Shop, asker: Asker, sent: Any, *, says_when: bool = True) -> PriceQuote:
    """Answer the listed price of a sku, never computed anew, and when it is ready.

    That takes a plan of builds: ``says_when`` is false where nobody is shown it. Raises
    ``Refused``.
    """
    asked, found, offer = _listed(shop, asker, sent)
    quote = listed_quote(offer, asked, found)
    if says_when:
        when = ready(offer, asked.quantity, found, shop.now(), lambda: shop.read(stored_workload))
        quote = replace(quote, lead_time=when)
    if asked.seal is not True:
        return quote
    return replace(quote, seal=listed_seal(shop, offer, sent))


def listed_unit_price(shop: Shop, asker: Asker, sent: Any) -> Decimal:
    """Answer the listed price of one unit of a sku, and nothing beside it. Raises ``Refused``."""
    asked, found, offer = _listed(shop, asker, sent)
    return unit_price_listed(offer, asked, found)


def _listed(shop: Shop, asker: Asker, sent: Any) -> tuple[ListedRequest, Pinned, Offer]:
    """Find what is listed and has a price. Raises ``Refused``."""
    asked = read_listed_request(sent)
    found = _today(shop, asker)
    offer = None if found is None else _find(shop, asker, asked.sku, asked.channel, found)
    if found is None or offer is None or offer.price is None:
        raise _not_listed(shop, asker, asked.sku, asked.channel, found)
    return asked, found, offer


def fresh_and_listed(
    shop: Shop, asker: Asker, sent: dict[str, Any], quote: Callable[[Any], Quote]
) -> Quote:
    """Quote what is listed under a sku afresh, with its listed price beside.

    What the request does not say is as the listing has it. Raises ``Refused``.
    """
    asked, offer = asked_as_listed(shop, asker, sent)
    if is_asked(sent):  # it promises the listed price, not the fresh one
        del asked["seal"]
    fresh = quote(asked)
    if is_asked(sent):
        fresh = replace(fresh, seal=listed_seal(shop, offer, sent))
    if offer.price is None:
        return fresh
    return replace(
        fresh,
        listed=told_price(offer.price),
        at_quantity=_flagged(fresh.at_quantity, offer),
        breaks=[_flagged(each, offer) for each in fresh.breaks],
    )


def asked_as_listed(shop: Shop, asker: Asker, sent: dict[str, Any]) -> tuple[dict[str, Any], Offer]:
    """Ask for what is listed under a sku as a described product. Raises ``Refused``."""
    asked = {name: value for name, value in sent.items() if name not in ("sku", "channel")}
    found = _today(shop, asker)
    sku, channel = sent["sku"], sent.get("channel", UNSET)
    read_listed_request({"sku": sku, "quantity": 1})
    offer = None if found is None else _find(shop, asker, sku, channel, found)
    if offer is None:
        raise _not_listed(shop, asker, sku, channel, found)
    return {**_as_listed(offer), **asked}, offer


def _today(shop: Shop, asker: Asker) -> Pinned | None:
    """Find today's sheet; whoever came in because there was no store sees none."""
    return None if asker.door == "no store" else shop.pinned_today()


def _find(shop: Shop, asker: Asker, sku: str, channel: Any, found: Pinned) -> Offer | None:
    """Find a listing that is open to the caller, on a channel that the rates still have."""
    offer = shop.read(lambda store: find_offer(store, sku, found.on))
    channels = found.in_force.sheet.channels
    if offer is None or channels is UNSET or offer.listing.channel not in channels:
        return None
    is_open = asker.channels is None or offer.listing.channel in asker.channels
    is_asked = channel is UNSET or channel == offer.listing.channel
    return offer if is_open and is_asked else None


def _not_listed(
    shop: Shop, asker: Asker, sku: str, channel: str | UnsetType, found: Pinned | None
) -> Refused:
    """Say that there is no such listing; to whoever may see them all, which one was meant."""
    detail = "nothing is listed under it for this key"
    if found is None or not asker.sees_costs or asker.channels is not None:
        return Refused("not-listed", (Fault("/sku", detail),))
    offer = _find(shop, asker, sku, UNSET, found)
    if offer is not None and channel not in (UNSET, offer.listing.channel):
        there = f"{sku} is not listed on this channel; it is on '{offer.listing.channel}'"
        return Refused("not-listed", (Fault("/channel", there),))
    known = shop.read(lambda store: names_like(store, "listing", sku, MOST_SEARCHED))
    near = nearest(sku, [each for each in known or () if each != sku])
    return Refused("not-listed", (Fault("/sku", f"{detail}{near}"),))


def _as_listed(offer: Offer) -> dict[str, Any]:
    """Ask as the listing does, in plain values."""
    listing = offer.listing
    asked = {"product": offer.product, "channel": listing.channel, "aim": listing.aim}
    if listing.breaks is not UNSET and listing.breaks:
        asked["breaks"] = listing.breaks
    return {name: msgspec.to_builtins(value) for name, value in asked.items() if value is not UNSET}


def _flagged(each: Break, offer: Offer) -> Break:
    listed = offer.price_at(each.quantity)
    if listed is not None and listed.unit_price == each.unit_price:
        return each
    return replace(each, flags=[*each.flags, DIFFERS])

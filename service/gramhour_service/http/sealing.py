"""Seals on quotes and prices: of a listed price the one kept with it, of a product one of its own.

Signing needs a key, and the first one has to be written: that is made ready before a quote is
answered, so that answering one writes nothing.
"""

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.answer import Quote
from gramhour.contract.prices import PriceItem
from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.shop import Shop
from gramhour_service.listings.offers import Offer
from gramhour_service.seals.listed import (
    Ground,
    good_seals,
    ground,
    is_near,
    seal_listed,
    seal_of,
    sign_and_keep,
    signed_anew,
)
from gramhour_service.seals.offers import overrides_in, quoted_offer, sealed
from gramhour_service.seals.standing import made_ready, standing
from gramhour_service.sheets.asked import Asked
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.prices import PriceChange, prices_numbered
from gramhour_service.store.trouble import StoreTrouble

MOST_BEFORE_THE_ANSWER = 2_000
"""Prices that are signed before it is answered that they are listed: half a second's work."""
NO_STORE = "only what the shop's stored rates say is sealed, and this service has no store"
NO_PRICE = "nothing is listed under it yet that could be sealed; reprice, and apply"


def is_asked(sent: Any) -> bool:
    """Say whether a request, sent as plain values, asks for a seal."""
    return isinstance(sent, dict) and sent.get("seal") is True


async def make_ready(shop: Shop) -> None:
    """Make the first key, where there is none. Raises ``StoreTrouble``."""
    found = shop.read(standing)
    if found is not None and found.signs is None:
        await shop.write(lambda store: made_ready(store, shop.now()))


def quote_seal(shop: Shop, asked: Asked, quote: Quote) -> str:
    """Seal the quote of a described product. Raises ``Refused`` with why it is not sealed."""
    found = shop.read(standing)
    if found is None:
        raise Refused("cannot-be-sealed", (Fault(UNSET, NO_STORE),))
    return sealed(quoted_offer(asked.request, asked.sheet, quote, found, shop.now()), found)


def part_seal(shop: Shop, asked: Asked, quote: Quote, made: Mapping[str, str]) -> str:
    """Seal the quote of a measured file; ``made`` says which, by which service, in what material.

    Raises ``Refused`` with why it is not sealed.
    """
    found = shop.read(standing)
    assert found is not None, "the part was signed by the store's key"
    offer = quoted_offer(asked.request, asked.sheet, quote, found, shop.now(), **made)
    return sealed(offer, found)


def listed_seal(shop: Shop, offer: Offer, sent: dict[str, Any]) -> str:
    """Seal the listed price of a sku. Raises ``Refused`` with why it is not sealed."""
    faults = overrides_in(sent)
    if offer.price is None and not faults:
        faults.append(Fault("/sku", NO_PRICE))
    if faults:
        raise Refused("cannot-be-sealed", tuple(faults))
    price = offer.price
    assert price is not None, "else it was refused"
    return seal_of(sealing_ground(shop), price)


async def with_seals(shop: Shop, items: list[PriceItem]) -> list[PriceItem]:
    """Add to listed prices the seals kept with them; those without a good one get one now."""
    changes = [item.change for item in items if item.breaks]
    if not changes:
        return items
    await make_ready(shop)
    prices = shop.read(lambda store: prices_numbered(store, changes)) or []
    on = sealing_ground(shop)
    seals = good_seals(on, prices)
    missing = [price for price in prices if price.change not in seals and is_near(on, price)]
    if missing:
        seals |= await _signed_now(shop, missing)
    return [replace(item, seal=seals.get(item.change, UNSET)) for item in items]


async def _signed_now(shop: Shop, prices: list[PriceChange]) -> dict[int, str]:
    """Sign prices and keep the seals; where the store cannot be written they count all the same."""

    def sign(store: Database) -> dict[int, str]:
        return sign_and_keep(ground(store, Sheets(store), shop.now()), prices)

    try:
        return await shop.write(sign)
    except StoreTrouble:
        on = sealing_ground(shop)
        made = (signed_anew(on, price) for price in prices)
        return {each.change: each.seal for each in made if each is not None}


async def seal_applied(shop: Shop, after: int, to: int) -> None:
    """Sign the prices of changes after a number and up to another; many after the answer.

    They are listed already; what cannot be signed now is when it is first asked for.
    """
    if to - after <= MOST_BEFORE_THE_ANSWER:
        await _sealed_all(shop, after, to)
    else:
        shop.go_on(_sealed_all(shop, after, to))


async def _sealed_all(shop: Shop, after: int, to: int) -> None:
    def told(_: int) -> None:
        if shop.is_closed:
            raise Closed

    with suppress(StoreTrouble, Closed):
        await shop.write(lambda store: seal_listed(store, shop.now(), after, to, told))


class Closed(Exception):
    """The service ends; what is not signed yet is when it is first asked for."""


def sealing_ground(shop: Shop) -> Ground:
    """Say what listed prices are sealed upon, by the sheets that this worker keeps."""
    found = shop.read_sheets(lambda store, sheets: ground(store, sheets, shop.now()))
    assert found is not None, "the price was read from the store"
    return found

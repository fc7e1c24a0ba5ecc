"""Asks for a price as any caller without a key does, sealed where that can be."""

from contextlib import suppress
from typing import Any

from gramhour.contract.answer import PriceQuote
from gramhour.contract.problem import Refused
from gramhour_service.http.asking import Asker
from gramhour_service.http.quoting import Wanted, quoted
from gramhour_service.http.sealing import make_ready
from gramhour_service.http.shop import Shop
from gramhour_service.store.trouble import StoreTrouble

NOT_SEALED = "cannot-be-sealed"


async def price_for(shop: Shop, asker: Asker, sent: dict[str, Any]) -> PriceQuote:
    """Answer the price view of a request; without a seal where none can be given.

    Raises ``Refused``.
    """
    shop.count(asker)
    with suppress(StoreTrouble):  # a store that cannot be written has its prices all the same
        await make_ready(shop)
    try:
        return _asked(shop, asker, {**sent, "seal": True})
    except Refused as refused:
        if refused.type != NOT_SEALED:
            raise
        return _asked(shop, asker, sent)


def _asked(shop: Shop, asker: Asker, sent: dict[str, Any]) -> PriceQuote:
    quote = quoted(shop, Wanted(asker, "price"), sent)
    assert isinstance(quote, PriceQuote), "the view asked for"
    return quote

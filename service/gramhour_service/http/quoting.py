"""One quote for whoever asks: what they may send, the sheet it is priced by, the view they get."""

from typing import Any, Literal, NamedTuple

from msgspec import UNSET

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.reading import read_listed_request
from gramhour.contract.request import ListedRequest
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_request
from gramhour_service.http.asking import Asker
from gramhour_service.http.shop import Shop
from gramhour_service.sheets.asked import read_asked

View = Literal["cost", "price"]

BUYERS_MAY_SEND = (*ListedRequest.__struct_fields__, "reference")
SPOKEN_OF_TO_BUYERS = ("/quantity", "/breaks")
NOT_FOR_BUYERS = "this cannot be priced as it is described; ask the shop"


class Wanted(NamedTuple):
    """Who asks for a quote, and how it is to be told."""

    asker: Asker
    view: View
    explain: bool = False


def view_of(asker: Asker, named: str | None, *, explain: bool) -> View:
    """Choose the view: the widest that the caller may see, or the one that they name.

    Raises ``Refused`` if they may not see it.
    """
    if not asker.sees_costs and (named == "cost" or explain):
        which = "explain" if explain else "view"
        raise Refused(
            "key-may-not", (Fault(UNSET, "this needs a key with scope cost", parameter=which),)
        )
    if explain and named == "price":
        raise Refused(
            "invalid-request",
            (Fault(UNSET, "the price view has nothing to explain", parameter="explain"),),
        )
    return "price" if named == "price" or not asker.sees_costs else "cost"


def quoted(shop: Shop, wanted: Wanted, sent: Any) -> Quote | PriceQuote:
    """Answer one request, sent as plain values. Raises ``Refused`` with every fault found."""
    if not wanted.asker.may_describe:
        _refuse_members(sent)
        return _listed_price(wanted.asker, sent)
    if isinstance(sent, dict) and "sku" in sent and "product" not in sent:
        return _listed_price(wanted.asker, sent)
    quote = _described(shop, sent, view=wanted.view, explain=wanted.explain)
    return quote if wanted.view == "cost" else price_view(quote)


def _refuse_members(sent: Any) -> None:
    """Refuse, by name, what lets a caller compute the shop's costs from its prices."""
    beyond = (
        [name for name in sent if name not in BUYERS_MAY_SEND] if isinstance(sent, dict) else []
    )
    if beyond:
        detail = "this key may not send it: it needs scope cost; ask by sku"
        raise Refused(
            "member-not-allowed", tuple(Fault(pointer(str(name)), detail) for name in beyond)
        )


def _listed_price(asker: Asker, sent: Any) -> PriceQuote:
    """Find the listed price of a sku. Nothing can be listed yet, so there is never one."""
    request = read_listed_request(sent)
    _check_channel(asker, request.channel)
    raise Refused("not-listed", (Fault("/sku", "nothing is listed under it for this key"),))


def _check_channel(asker: Asker, channel: Any) -> None:
    if channel is not UNSET and asker.channels is not None and channel not in asker.channels:
        raise Refused("key-may-not", (Fault("/channel", "this channel is not open to you"),))


def _described(shop: Shop, sent: Any, *, view: View, explain: bool) -> Quote:
    """Answer a described product; in the price view refusals too are as a buyer may see them."""
    asked = read_asked(shop.pinned, shop.now(), sent, names_codes=view == "cost")
    try:
        return answer_request(
            asked.request, asked.sheet, revision=asked.revision, on=asked.on, explain=explain
        )
    except Refused as refused:
        if view == "price":
            raise _for_buyers(refused) from None
        raise


def _for_buyers(refused: Refused) -> Refused:
    """Leave out of a refusal all that may hold a code, a rate or a number of the sheet's."""
    spoken_of = tuple(
        fault
        for fault in refused.faults
        if refused.type == "invalid-request"
        and (fault.pointer or "").startswith(SPOKEN_OF_TO_BUYERS)
    )
    return Refused(refused.type, spoken_of or (Fault(UNSET, NOT_FOR_BUYERS),))

"""One quote for whoever asks: what they may send, the sheet it is priced by, the view they get."""

from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any, Literal, NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.request import ListedRequest
from gramhour_service.answer.price_view import price_view
from gramhour_service.http.asking import Asker, lacking
from gramhour_service.http.by_sku import (
    asked_as_listed,
    fresh_and_listed,
    listed_price,
    listed_unit_price,
)
from gramhour_service.http.measured import answered_as, measured_quote, part_asked
from gramhour_service.http.sealing import is_asked, quote_seal
from gramhour_service.http.shop import Shop
from gramhour_service.listings.variants import filaments_of_piece
from gramhour_service.sheets.asked import Asked, FindSheet, read_asked
from gramhour_service.workbook.making import workbook_of

View = Literal["cost", "price"]

OF_A_PART = ("measurement", "service", "material")
BUYERS_MAY_SEND = (*ListedRequest.__struct_fields__, *OF_A_PART, "reference")
NEEDS_COST = "this needs a key with scope cost; without one ask by sku, and leave this out"
SPOKEN_OF_TO_BUYERS = ("/quantity", "/breaks")
SPOKEN_OF_A_PART = (*SPOKEN_OF_TO_BUYERS, *(f"/{name}" for name in (*OF_A_PART, "channel")))
NOT_FOR_BUYERS = "this cannot be priced as it is described; ask the shop"
NO_SEAL = "a workbook can be changed and so carries no seal; ask for one in JSON, or leave it out"
MOST_NAMED = 100
MOST_EXPLAINED = 500
"""Feeds times quantities: an explanation of more would keep all other callers waiting."""


class Wanted(NamedTuple):
    """Who asks for a quote, and how it is to be told.

    ``says_when`` is false where the day on which it is ready is not shown.
    """

    asker: Asker
    view: View
    explain: bool = False
    says_when: bool = True


def view_of(asker: Asker, named: str | None, *, explain: bool) -> View:
    """Choose the view: the widest that the caller may see, or the one that they name.

    Raises ``Refused`` if they may not see it.
    """
    if not asker.sees_costs and (named == "cost" or explain):
        which = "explain" if explain else "view"
        raise lacking(asker, "this needs a key with scope cost", which)
    if explain and named == "price":
        raise Refused(
            "invalid-request",
            (Fault(UNSET, "the price view has nothing to explain", parameter="explain"),),
        )
    return "price" if named == "price" or not asker.sees_costs else "cost"


def quoted(shop: Shop, wanted: Wanted, sent: Any) -> Quote | PriceQuote:
    """Answer one request, sent as plain values. Raises ``Refused`` with every fault found."""
    _check_sent(wanted.asker, sent)
    if _is_of_a_part(sent):
        quote = _of_own_part(shop, wanted, sent)
        return quote if wanted.view == "cost" else price_view(quote)
    if _is_listed(wanted, sent):
        return listed_price(shop, wanted.asker, sent, says_when=wanted.says_when)
    if _is_by_sku(sent):
        return fresh_and_listed(
            shop, wanted.asker, sent, lambda asked: _described(shop, wanted, asked)
        )
    quote = _described(shop, wanted, sent)
    return quote if wanted.view == "cost" else price_view(quote)


def unit_price_quoted(shop: Shop, wanted: Wanted, sent: Any) -> Decimal:
    """Answer what ``quoted`` says of one unit; of what is listed that alone is looked up."""
    if not _is_listed(wanted, sent):
        return quoted(shop, wanted, sent).at_quantity.unit_price
    _check_sent(wanted.asker, sent)
    return listed_unit_price(shop, wanted.asker, sent)


def workbook_quoted(shop: Shop, wanted: Wanted, sent: Any) -> bytes:
    """Answer one request, for whoever sees costs, as a workbook. Raises ``Refused``."""
    check_channel(wanted.asker, sent)
    if is_asked(sent):
        raise Refused("invalid-request", (Fault("/seal", NO_SEAL),))
    if _is_of_a_part(sent):
        find = sheets_for(shop, wanted.asker)
        part = part_asked(shop, wanted.asker, find, sent, names_codes=True)
        told = measured_quote(shop, part, explain=False)
        return workbook_of(part.asked.request, part.asked.sheet, told, part.own)
    if _is_by_sku(sent):
        sent, _ = asked_as_listed(shop, wanted.asker, sent)
    asked = read_asked(sheets_for(shop, wanted.asker), shop.now(), sent)
    _check_work(asked)
    told = answered_as(shop, asked, shop.now(), explain=False)
    return workbook_of(asked.request, asked.sheet, told)


def _is_of_a_part(sent: Any) -> bool:
    return isinstance(sent, dict) and "measurement" in sent and not {"sku", "product"} & sent.keys()


def _is_by_sku(sent: Any) -> bool:
    return isinstance(sent, dict) and "sku" in sent and "product" not in sent


def _is_listed(wanted: Wanted, sent: Any) -> bool:
    """Say whether what is asked for is a listed price, not one computed for who asks."""
    if not wanted.asker.may_describe:
        return not _is_of_a_part(sent)
    return wanted.view == "price" and _is_by_sku(sent)


def _check_sent(asker: Asker, sent: Any) -> None:
    """Refuse what is not open to the caller."""
    check_channel(asker, sent)
    if not asker.may_describe:
        _refuse_members(sent)


def _refuse_members(sent: Any) -> None:
    """Refuse, by name, what lets a caller compute the shop's costs from its prices."""
    members = sent if isinstance(sent, dict) else {}
    beyond = [name for name in members if name not in BUYERS_MAY_SEND][:MOST_NAMED]
    if beyond:
        raise Refused(
            "member-not-allowed", tuple(Fault(pointer(str(name)), NEEDS_COST) for name in beyond)
        )


def check_channel(asker: Asker, sent: Any) -> None:
    """Refuse a channel that is not the caller's."""
    channel = sent.get("channel") if isinstance(sent, dict) else None
    if isinstance(channel, str) and asker.channels is not None and channel not in asker.channels:
        raise Refused("key-may-not", (Fault("/channel", "this channel is not open to you"),))


def sheets_for(shop: Shop, asker: Asker) -> FindSheet:
    """Open the shop's sheets to a caller.

    Whoever was let in because there was no store is never shown one that was made since.
    """
    return shop.pinned if asker.door != "no store" else lambda *_: None


def _described(shop: Shop, wanted: Wanted, sent: Any) -> Quote:
    """Answer a described product; in the price view refusals too are as a buyer may see them."""
    find, now = sheets_for(shop, wanted.asker), shop.now()
    asked = read_asked(find, now, sent, names_codes=wanted.view == "cost")
    if wanted.explain:
        _check_work(asked, "explain")
    with _refusing(wanted, SPOKEN_OF_TO_BUYERS):
        quote = answered_as(shop, asked, now, explain=wanted.explain, says_when=wanted.says_when)
        if asked.request.seal is not True:
            return quote
        return replace(quote, seal=quote_seal(shop, asked, quote))


def _of_own_part(shop: Shop, wanted: Wanted, sent: dict[str, Any]) -> Quote:
    """Answer a measured file; in the price view refusals too are as a buyer may see them."""
    find = sheets_for(shop, wanted.asker)
    with _refusing(wanted, SPOKEN_OF_A_PART):
        part = part_asked(shop, wanted.asker, find, sent, names_codes=wanted.view == "cost")
        return measured_quote(shop, part, explain=wanted.explain)


@contextmanager
def _refusing(wanted: Wanted, spoken_of_to_buyers: tuple[str, ...]) -> Iterator[None]:
    """Refuse in the price view as a buyer may see it; in the cost view with every fault."""
    try:
        yield
    except Refused as refused:
        if wanted.view == "cost":
            raise
        raise _for_buyers(refused, spoken_of_to_buyers) from None


def _check_work(asked: Asked, parameter: str | UnsetType = UNSET) -> None:
    """Refuse to write out so much that others would wait."""
    pieces = asked.request.product.pieces
    feeds = 0 if pieces is UNSET else sum(len(filaments_of_piece(piece)) for piece in pieces)
    breaks = asked.request.breaks
    quantities = 1 + (0 if breaks is UNSET else len(breaks))
    if feeds * quantities > MOST_EXPLAINED:
        detail = (
            f"would explain {feeds} feeds at {quantities} quantities, and at most "
            f"{MOST_EXPLAINED} in all are explained; ask for fewer breaks at once"
        )
        at = "/breaks" if parameter is UNSET else UNSET
        raise Refused("invalid-request", (Fault(at, detail, parameter=parameter),))


def _for_buyers(refused: Refused, spoken_of_to_buyers: tuple[str, ...]) -> Refused:
    """Leave out of a refusal all that may hold a code, a rate or a number of the sheet's.

    Why something is not sealed holds none.
    """
    if refused.type == "cannot-be-sealed":
        return refused
    spoken_of = tuple(
        fault
        for fault in refused.faults
        if refused.type == "invalid-request"
        and (fault.pointer or "").startswith(spoken_of_to_buyers)
    )
    return Refused(refused.type, spoken_of or (Fault(UNSET, NOT_FOR_BUYERS),))

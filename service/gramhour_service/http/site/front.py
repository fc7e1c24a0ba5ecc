"""GET /: the customer's page, if the service quotes without a key; else where to go."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from litestar import Response

from gramhour.contract.problem import Refused
from gramhour_service.http.asking import Asker, public_asker
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.problems import refusal_of
from gramhour_service.http.shop import Shop
from gramhour_service.http.site.asking_price import price_for
from gramhour_service.http.site.offers import Offered, offered
from gramhour_service.http.site.seller import seller
from gramhour_service.http.site.services import made
from gramhour_service.http.site.serving import page, serves_page
from gramhour_service.http.site.wish import Wish, wish_of
from gramhour_service.http.wire import Asked
from gramhour_service.pages.told import Told, told_of

MOST_SHOWN = 60
"""Products with their price on the first page; of more it would become heavy."""
NEEDED = {"sku": "Choose a product.", "quantity": "Say how many you need."}


@serves_page("GET", "/")
async def front(request: Asked) -> Response[bytes]:
    """Answer the page, and on it the price that is asked for."""
    return await _answered(request, "front.html")


@serves_page("GET", "/quotation")
async def quotation(request: Asked) -> Response[bytes]:
    """Answer the same as a quotation to print."""
    return await _answered(request, "quotation.html")


async def _answered(request: Asked, template: str) -> Response[bytes]:
    shop: Shop = request.app.state.shop
    asker = public_asker(request, shop)
    if asker is None:
        return page(request, "closed.html")
    offers = offered(shop, asker)
    texts = {name: request.query_params.get(name, "") for name in ("sku", "quantity", "by")}
    wish, told, refused = wish_of(texts, NEEDED), None, None
    if not wish.is_empty and not wish.faults:
        try:
            told = await _told(shop, asker, wish, offers)
        except Refused as error:
            refused = refusal_of(error)
            wish = wish.with_faults_of(refused)
    values: dict[str, Any] = {
        "wish": wish,
        "both": "listed" if made(shop, asker) else "",
        "by_post": False,
        "offers": offers,
        "most_shown": MOST_SHOWN,
        "told": told,
        "today": shop.today(),
        "seller": seller(request, shop),
        "quotation": f"/quotation?{urlencode(texts)}",
        "less": _more_of(texts, told),
        "back": f"/?{urlencode(texts)}",
    }
    if told is None and template != "front.html":
        template = "front.html"
    status = 200 if not wish.faults else 422 if refused is None else PROBLEMS[refused.type].status
    answer = page(request, template, status=status, **values)
    answer.headers.update(getattr(refused, "headers", {}))
    return answer


def _more_of(texts: dict[str, str], told: Told | None) -> str:
    """Say where the larger quantity is asked for that costs less in all."""
    if told is None or told.less_in_all is None:
        return ""
    return f"/?{urlencode({**texts, 'quantity': told.less_in_all.quantity})}"


async def _told(shop: Shop, asker: Asker, wish: Wish, offers: Sequence[Offered] | None) -> Told:
    """Ask for the price, and tell it. Raises ``Refused``."""
    sku = wish.texts["sku"]
    quote = await price_for(shop, asker, {"sku": sku, "quantity": wish.quantity})
    offer = next((each for each in offers or () if each.sku == sku), None)
    return told_of(
        quote,
        sku if offer is None else offer.name,
        wish.by,
        includes_tax=offer is None or offer.includes_tax,
        sku=sku,
    )

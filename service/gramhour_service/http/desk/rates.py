"""/desk/rates: what things cost, on a day; each rate with who changed it, when and why."""

from litestar import Response
from litestar.params import FromPath

from gramhour.contract.rates import KINDS
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import desk_page, needed, serves_desk
from gramhour_service.http.desk.sheet import sheet_of
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.rate_form import SHOP

PATH = "/desk/rates"
PAGE = 50


@serves_desk("GET", PATH)
async def rates(request: Asked) -> Response[bytes]:
    """Answer all rates of a day, and the newest revisions."""
    on = request.query_params.get("on", "").strip()
    sheet = await sheet_of(request, on)
    kinds = {kind: sheet.rates.get(kind, {}) for kind in KINDS}
    shop = {name: value for name, value in sheet.rates.items() if name not in KINDS}
    cursor = request.query_params.get("cursor", "")
    told = await ask(request, "GET", "/v1/revisions", query={"limit": PAGE, "cursor": cursor})
    return desk_page(
        request, "rates.html", sheet=sheet, on=on, kinds={SHOP: shop, **kinds},
        revisions=needed(told),
    )  # fmt: skip


@serves_desk("GET", "/desk/revisions/{number:str}")
async def revision(request: Asked, number: FromPath[str]) -> Response[bytes]:
    """Answer what a revision changed, by whom and why."""
    made = needed(await ask(request, "GET", f"/v1/revisions/{number}"))
    changes = needed(await ask(request, "GET", f"/v1/revisions/{number}/changes"))
    return desk_page(request, "revision.html", made=made, changes=changes["changes"])

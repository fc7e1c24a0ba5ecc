"""/desk: what there is to do, and what was done last."""

from litestar import Response

from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import desk_page, serves_desk
from gramhour_service.http.wire import Asked

LATEST = {"limit": 5}


@serves_desk("GET", "/desk")
async def home(request: Asked) -> Response[bytes]:
    """Answer the first page."""
    sheet = await ask(request, "GET", "/v1/rates")
    revisions = await ask(request, "GET", "/v1/revisions", query=LATEST)
    repricings = None
    if request.state.desk.may("listings"):
        repricings = await ask(request, "GET", "/v1/repricings", query=LATEST)
    return desk_page(
        request,
        "home.html",
        sheet=sheet.document,
        revisions=(revisions.document or {"items": []})["items"],
        repricings=[] if repricings is None else (repricings.document or {"items": []})["items"],
    )

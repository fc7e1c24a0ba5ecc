"""/desk/repricings: those that were made, and starting one."""

import secrets

from litestar import Response

from gramhour.contract.problem import Problem
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import (
    desk_page,
    form_sent,
    go_to,
    needed,
    serves_desk,
)
from gramhour_service.http.desk.sheet import sheet_of
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.forms import form_of
from gramhour_service.pages.desk.repricing_form import ASKED
from gramhour_service.pages.desk.sent import request_of

PATH = "/desk/repricings"
ROUTE = "/v1/repricings"
PAGE = 50


@serves_desk("GET", PATH)
async def repricings(request: Asked) -> Response[bytes]:
    """Answer the repricings, and a form for another."""
    on = request.query_params.get("rates_on", "").strip()
    return await _page(request, {"rates_on": on} if on else {})


@serves_desk("POST", PATH)
async def start_repricing(request: Asked) -> Response[bytes]:
    """Start a repricing, and go to its report; sent twice, it is one."""
    form = await form_sent(request)
    document = request_of(ASKED, form.fields)
    once = {"idempotency-key": form.one("once")} if form.one("once") else {}
    told = await ask(request, "POST", ROUTE, sent=document, headers=once)
    if told.problem is None:
        return go_to(f"{PATH}/{told.document['id']}")
    return await _page(request, document, told.problem)


async def _page(
    request: Asked, document: object, problem: Problem | None = None
) -> Response[bytes]:
    sheet = await sheet_of(request)
    query = {"limit": PAGE, "cursor": request.query_params.get("cursor", "")}
    told = await ask(request, "GET", ROUTE, query=query)
    form = form_of(ASKED, document, sheet.codes, () if problem is None else problem.errors)
    return desk_page(
        request,
        "repricings.html",
        sheet=sheet,
        currency=sheet.currency,
        form=form,
        at=form.by_name,
        problem=problem,
        repricings=needed(told) if request.state.desk.may("listings") else {"items": []},
        once=secrets.token_hex(16),
    )

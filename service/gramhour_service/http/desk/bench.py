"""/desk/bench: one product, quoted while it is described; loaded from the shop, saved to it."""

import shlex
from collections.abc import Mapping
from typing import Any

import msgspec
from litestar import Response
from msgspec.structs import replace

from gramhour.contract.problem import Fault, Problem
from gramhour_service.http.desk.api import Told, ask
from gramhour_service.http.desk.bench_saved import (
    Loaded,
    Saved,
    load,
    loaded_from,
    save_listing,
    save_product,
)
from gramhour_service.http.desk.offered import offered
from gramhour_service.http.desk.serving import PART, desk_page, form_sent, serves_desk
from gramhour_service.http.desk.sheet import Sheet, sheet_of
from gramhour_service.http.wire import Asked, address_asked
from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.forms import form_of
from gramhour_service.pages.desk.quote_shown import shown_quote
from gramhour_service.pages.desk.rows import with_changed_rows, without_empty
from gramhour_service.pages.desk.sent import request_of
from gramhour_service.pages.drawing.machines import machines_over_time
from gramhour_service.pages.drawing.shares import shares

PATH = "/desk/bench"
QUOTES = "/v1/quotes"
NOTHING_DESCRIBED = (
    "nothing is described yet: add a piece, with its machine, minutes and filament, or fill in "
    "what is bought or done for it"
)


@serves_desk("GET", PATH)
async def bench(request: Asked) -> Response[bytes]:
    """Answer the bench, empty or with what is asked to be loaded."""
    sheet = await sheet_of(request)
    document, loaded = await load(request, sheet, request.query_params.get("load", "").strip())
    return await _shown(request, sheet, document, loaded, is_begun=not loaded.title)


@serves_desk("POST", PATH)
async def quote_at_bench(request: Asked) -> Response[bytes]:
    """Quote what was typed; add or take away a row; or save it to the shop."""
    form = await form_sent(request)
    sheet = await sheet_of(request)
    loaded = loaded_from(form)
    changed = bool(form.one("add") or form.one("remove"))
    document = request_of(REQUEST, form.fields, keep_empty=changed)
    document = with_changed_rows(document, form.one("add"), form.one("remove"))
    saved = Saved()
    if form.one("save") == "product":
        loaded, saved = await save_product(request, loaded, document)
    if form.one("save") == "listing":
        loaded, saved = await save_listing(request, loaded, document)
    return await _shown(request, sheet, document, loaded, saved, is_begun=changed)


async def _shown(
    request: Asked,
    sheet: Sheet,
    document: dict[str, Any],
    loaded: Loaded,
    saved: Saved = Saved(),  # noqa: B008 (it is frozen)
    *,
    is_begun: bool = False,
) -> Response[bytes]:
    """Quote a request and answer the page with all of it; one that is only begun has no faults."""
    asked = without_empty(document) if is_begun else document
    told = await _quoted(request, asked)
    problem = None if is_begun or told.problem is None else _of_fields(told.problem)
    faults = () if problem is None else problem.errors
    form = form_of(REQUEST, document, sheet.codes, faults)
    quote = told.document
    shown = None if quote is None else shown_quote(quote)
    return desk_page(
        request,
        "bench-result.html" if PART in request.headers else "bench.html",
        title=loaded.title,
        form=form,
        at=form.by_name,
        sheet=sheet,
        currency=sheet.currency,
        loaded=loaded,
        saved=saved,
        quote=quote,
        problem=problem,
        shown=shown,
        drawing=None if shown is None else shares(shown.columns, quote["currency"]),
        machines=_machines(quote),
        as_json=_pretty(asked),
        as_curl=_curl(address_asked(request), asked),
        offered=await offered(request),
    )


def _of_fields(problem: Problem) -> Problem:
    """Say where nothing is described which field is to be filled in: none is called product."""
    faults = [
        Fault("/product/pieces", NOTHING_DESCRIBED) if fault.pointer == "/product" else fault
        for fault in problem.errors
    ]
    return replace(problem, errors=faults)


def _machines(quote: Mapping[str, Any] | None) -> Any:
    lead_time = None if quote is None else quote.get("lead_time")
    return None if lead_time is None else machines_over_time(lead_time)


async def _quoted(request: Asked, document: Any) -> Told:
    """Quote with reasons; where there are too many of them, without."""
    told = await ask(request, "POST", QUOTES, query={"explain": "true"}, sent=document)
    if told.problem is not None and any(
        fault.parameter == "explain" for fault in told.problem.errors
    ):
        return await ask(request, "POST", QUOTES, sent=document)
    return told


def _pretty(document: Any) -> str:
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode()


def _curl(address: str, document: Any) -> str:
    """Write the request as a command; the key stands in no page, so it is named, not told."""
    body = shlex.quote(msgspec.json.encode(document).decode())
    return (
        'curl -H "Authorization: Bearer $GRAMHOUR_KEY" -H "Content-Type: application/json" '
        f"--data-binary {body} {shlex.quote(address + QUOTES)}"
    )

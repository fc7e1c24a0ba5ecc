"""/desk/compare: one product made in several ways, side by side, and where each is the best."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from litestar import Response
from litestar.params import FromPath

from gramhour.contract.problem import Problem
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.bench_saved import load
from gramhour_service.http.desk.offered import offered
from gramhour_service.http.desk.serving import PART, desk_page, form_sent, needed, serves_desk
from gramhour_service.http.desk.sheet import Sheet, sheet_of
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.comparison_form import BEGIN, REQUEST
from gramhour_service.pages.desk.comparison_shown import losing_at, paybacks_of, rows_of
from gramhour_service.pages.desk.forms import form_of
from gramhour_service.pages.desk.rows import with_changed_rows, without_empty
from gramhour_service.pages.desk.sent import request_of
from gramhour_service.pages.drawing.intervals import intervals

PATH = "/desk/compare"
ROUTE = "/v1/comparisons"


@serves_desk("GET", PATH)
async def compare(request: Asked) -> Response[bytes]:
    """Answer the form, empty or with a product that is asked to be loaded."""
    sheet = await sheet_of(request)
    name = request.query_params.get("load", "").strip()
    document, loaded = await load(request, sheet, name)
    begun = {
        **{member: document[member] for member in ("product", "channel")},
        **({"aim": document["aim"]} if "aim" in document else {}),
        **BEGIN,
    }
    return await _page(request, sheet, begun, title=name, fault=loaded.says)


@serves_desk("POST", PATH)
async def compare_ways(request: Asked) -> Response[bytes]:
    """Compare what was typed, or add or take away a row."""
    form = await form_sent(request)
    sheet = await sheet_of(request)
    is_changed = bool(form.one("add") or form.one("remove"))
    document = request_of(REQUEST, form.fields, keep_empty=is_changed)
    document = with_changed_rows(document, form.one("add"), form.one("remove"))
    title = form.one("title")
    if is_changed:
        return await _page(request, sheet, document, title=title)
    told = await ask(request, "POST", ROUTE, sent=without_empty(document))
    return await _page(request, sheet, document, told.document, told.problem, title=title)


@serves_desk("GET", "/desk/compare/{name:str}")
async def comparison(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Answer a comparison that is computed beside the others: how far it is, or what came of it."""
    run = needed(await ask(request, "GET", f"{ROUTE}/{quote(name, safe='')}"))
    template = "comparison-progress.html" if PART in request.headers else "comparison.html"
    found = run.get("comparison")
    return desk_page(request, template, run=run, **_told(found))


async def _page(
    request: Asked,
    sheet: Sheet,
    document: Mapping[str, Any],
    told: Mapping[str, Any] | None = None,
    problem: Problem | None = None,
    *,
    title: str = "",
    fault: str = "",
) -> Response[bytes]:
    form = form_of(REQUEST, document, sheet.codes, () if problem is None else problem.errors)
    is_run = told is not None and "state" in told
    return desk_page(
        request,
        "compare.html",
        title=title,
        load_fault=fault,
        form=form,
        at=form.by_name,
        sheet=sheet,
        currency=sheet.currency,
        problem=problem,
        run=told if is_run else None,
        offered=await offered(request),
        **_told(None if is_run else told),
    )


def _told(comparison: Mapping[str, Any] | None) -> dict[str, Any]:
    """Set a comparison out for the template."""
    if comparison is None:
        return {"comparison": None, "rows": [], "paybacks": [], "losing": [], "drawing": None}
    return {
        "comparison": comparison,
        "rows": rows_of(comparison),
        "paybacks": paybacks_of(comparison),
        "losing": losing_at(comparison),
        "drawing": intervals(comparison) if comparison.get("intervals") else None,
    }

"""Refusals as a spreadsheet's cell can show them: words in plain text, which are never a number.

A cell sees nothing of an answer that is no 200; whoever wants to read why asks ``errors=text``.
"""

from typing import Any

from litestar import Request, Response
from msgspec import UNSET

from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.problems import FAULTS_IN_DETAIL, answer_refusal, refusal_of
from gramhour_service.http.wire import TEXT, VARY, Asked, media_type_wanted

ERRORS = "errors"
IN_WORDS = "text"


def answer_cell_or_refusal(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer any error: as a problem, or in words if it is a cell that asks for them."""
    if not _wants_words(request):
        return answer_refusal(request, error)
    refused = refusal_of(error)
    return Response(
        words_of(refused).encode(),
        status_code=200,
        media_type=TEXT,
        headers={"Cache-Control": "no-store", "Vary": VARY, **getattr(refused, "headers", {})},
    )


def words_of(refused: Refused) -> str:
    """Say in a line why there is no number."""
    told = list(dict.fromkeys(map(_said, refused.faults)))
    more = len(told) - FAULTS_IN_DETAIL
    line = "; ".join(told[:FAULTS_IN_DETAIL]) + (f"; and {more} more" if more > 0 else "")
    return f"error: {' '.join(line.split())}"


def _said(fault: Fault) -> str:
    place = fault.parameter if fault.parameter is not UNSET else fault.pointer
    return f"{place}: {fault.detail}" if place else fault.detail


def _wants_words(request: Asked) -> bool:
    try:
        is_cell = request.route_handler.opt.get("cells")
        is_asked = request.query_params.getall(ERRORS, []) == [IN_WORDS]
        return bool(is_cell) and is_asked and media_type_wanted(request, (TEXT,)) == TEXT
    except (KeyError, Refused):  # no route, or they want another form
        return False

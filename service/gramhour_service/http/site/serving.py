"""Pages over HTTP: what every page tells the browser, and how a refusal looks on one.

The policy lets a page load from its own service only, and run no script and no style that stands
in it: whatever a name or a note of the shop holds, it stays text.
"""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from litestar import Response, route
from litestar.handlers import HTTPRouteHandler

from gramhour_service.http.asking import Scope
from gramhour_service.http.operation import Method
from gramhour_service.http.problems import MEDIA_TYPE, answer_refusal, problem_of, refusal_of
from gramhour_service.http.settings import MOST_FORM_BYTES
from gramhour_service.http.wire import OF_COSTS, OF_PRICES, Asked, answered, tag_of_body
from gramhour_service.pages.rendering import rendered

HTML = "text/html"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
TOLD = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


def told_with(cache_control: str) -> dict[str, str]:
    """List the headers of every page and its files, and how long they may be kept."""
    return {**TOLD, "Cache-Control": cache_control}


def serves_page(
    method: Method,
    path: str,
    *,
    scope: Scope | None = None,
    most_body_bytes: int = MOST_FORM_BYTES,
) -> Callable[[Any], HTTPRouteHandler]:
    """Make a function the handler of a page; what answers GET answers HEAD too."""
    return route(
        path,
        http_method=["GET", "HEAD"] if method == "GET" else [method],
        status_code=200,
        request_max_body_size=most_body_bytes,
        opt={"scope": scope, "cells": False},
        exception_handlers={Exception: refused_page},
        include_in_schema=False,
    )


def page(
    request: Asked,
    template: str,
    *,
    costs: bool = False,
    status: int = HTTPStatus.OK,
    **values: object,
) -> Response[bytes]:
    """Answer a page; one that shows costs is kept by nobody."""
    body = rendered(template, **values)
    is_kept = not costs and status == HTTPStatus.OK and request.method in ("GET", "HEAD")
    return answered(
        request,
        body,
        HTML,
        costs=costs,
        status=status,
        tag=tag_of_body(body) if is_kept else None,
        headers=told_with(OF_PRICES if is_kept else OF_COSTS),
    )


def refused_page(request: Asked, error: Exception) -> Response[bytes]:
    """Tell a refusal on a page to whoever reads pages; to others as the problem that it is."""
    wanted = (
        request.accept.best_match([MEDIA_TYPE, HTML]) if request.headers.get("accept") else None
    )
    if wanted != HTML:
        return answer_refusal(request, error)
    problem = problem_of(refusal_of(error))
    told = answer_refusal(request, error)
    answer = page(request, "refused.html", status=problem.status, problem=problem)
    kept = {name: value for name, value in told.headers.items() if name in ("Retry-After", "Allow")}
    answer.headers.update(kept)
    return answer

"""Every refusal as one shape (RFC 9457), by the table of all types. Nothing else makes errors."""

import logging
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException
from msgspec import UNSET

from gramhour.contract.problem import Fault, Problem, Refused
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.store.trouble import StoreTrouble

LOG = logging.getLogger(__name__)
MEDIA_TYPE = "application/problem+json"
SECONDS_TO_WAIT = "5"
FAULTS_IN_DETAIL = 3

OF_STATUS = {
    401: "key-needed",
    403: "key-may-not",
    404: "no-such-path",
    405: "method-not-allowed",
    406: "not-acceptable",
    413: "body-too-large",
    415: "unsupported-media-type",
    429: "too-many-requests",
}
OF_HOST = "Invalid host header"
"""What the framework says of it before any route."""
HEADERS = {
    401: {"WWW-Authenticate": 'Bearer realm="gramhour"'},
    503: {"Retry-After": SECONDS_TO_WAIT},
}


def refused(kind: str, detail: str) -> Refused:
    """Refuse for a reason that stands at no place of the request."""
    return Refused(kind, (Fault(UNSET, detail),))


def problem_of(refused: Refused) -> Problem:
    """Tell a refusal as the contract's problem."""
    kind = PROBLEMS[refused.type]
    details = list(dict.fromkeys(fault.detail for fault in refused.faults))
    more = len(details) - FAULTS_IN_DETAIL
    return Problem(
        type=f"/problems/{refused.type}",
        title=kind.title,
        status=kind.status,
        detail="; ".join(details[:FAULTS_IN_DETAIL]) + (f"; and {more} more" if more > 0 else ""),
        errors=list(refused.faults),
    )


def answer_refusal(_: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer any error: the one way from what went wrong to what is told."""
    headers = error.headers if isinstance(error, HTTPException) else None
    return problem_response(refusal_of(error), headers)


def refusal_of(error: Exception) -> Refused:
    """Tell any error as a refusal. What is not a caller's fault is logged, and not told."""
    match error:
        case Refused():
            return error
        case StoreTrouble():
            return _of_trouble(error)
        case HTTPException():
            return _of_status(error)
    LOG.error("a request met a fault of the service", exc_info=error)
    return Refused("internal-error", (Fault(UNSET, "this is not the request's fault"),))


def problem_response(refused: Refused, headers: dict[str, str] | None = None) -> Response[bytes]:
    """Send a refusal."""
    problem = problem_of(refused)
    return Response(
        msgspec.json.encode(problem),
        status_code=problem.status,
        media_type=MEDIA_TYPE,
        headers={
            "Cache-Control": "no-store",
            "Vary": "Accept, Authorization",
            **HEADERS.get(problem.status, {}),
            **getattr(refused, "headers", {}),
            **(headers or {}),
        },
    )


def _of_trouble(trouble: StoreTrouble) -> Refused:
    LOG.error("the store: %s", trouble.detail)
    kind = trouble.kind if trouble.kind in PROBLEMS else "store-unavailable"
    return Refused(kind, (Fault(UNSET, PROBLEMS[kind].says),))


def _of_status(error: HTTPException) -> Refused:
    """Tell what the framework refused by itself: routing, methods, sizes, a Host."""
    kind = "malformed-host" if error.detail == OF_HOST else OF_STATUS.get(error.status_code)
    if kind is None:
        is_ours = error.status_code >= HTTPStatus.INTERNAL_SERVER_ERROR
        kind = "internal-error" if is_ours else "malformed-document"
    return Refused(kind, (Fault(UNSET, PROBLEMS[kind].says),))

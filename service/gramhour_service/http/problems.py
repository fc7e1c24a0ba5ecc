"""Every refusal as one shape (RFC 9457), with one table of all types. Nothing else makes errors."""

import logging
from http import HTTPStatus
from typing import Any, NamedTuple

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException
from msgspec import UNSET

from gramhour.contract.problem import Fault, Problem, Refused
from gramhour_service.http.settings import MOST_BODY_BYTES, MOST_FILE_BYTES
from gramhour_service.store.trouble import StoreTrouble

LOG = logging.getLogger(__name__)
MEDIA_TYPE = "application/problem+json"
SECONDS_TO_WAIT = "5"
FAULTS_IN_DETAIL = 3


class ProblemType(NamedTuple):
    """A kind of refusal: its status, its title, and when it is given or what helps."""

    status: int
    title: str
    says: str


PROBLEMS = {
    "malformed-document": ProblemType(
        400, "The body cannot be read", "not JSON, not UTF-8, too deep, a member twice, or empty"
    ),
    "key-needed": ProblemType(
        401, "A key is needed", "send a good one as Authorization: Bearer KEY, never in a URL"
    ),
    "key-may-not": ProblemType(
        403, "The key may not do this", "it lacks the scope named, or is for other channels"
    ),
    "member-not-allowed": ProblemType(
        403, "The key may not send this", "each member that needs scope cost is named"
    ),
    "no-such-path": ProblemType(404, "There is nothing here", "see the paths in /openapi.json"),
    "unknown-rate": ProblemType(404, "There is no such rate", "kind, code, revision or day"),
    "unknown-revision": ProblemType(
        404, "There is no such revision", "the newest one is named; see /v1/revisions"
    ),
    "not-listed": ProblemType(404, "Nothing is listed under this", "a sku without a listed price"),
    "unknown-entry": ProblemType(
        404, "There is no such thing in the store", "a product, a listing, a channel, a repricing"
    ),
    "method-not-allowed": ProblemType(405, "This cannot be done here", "Allow says what can"),
    "not-acceptable": ProblemType(406, "No such form of answer", "Accept what is named"),
    "moved-on": ProblemType(
        409, "Something has changed since", "it is named; look at it and send again"
    ),
    "in-use": ProblemType(
        409, "It is still used", "what uses it is named; change or take that away first"
    ),
    "not-applicable": ProblemType(
        409, "The repricing cannot be applied", "why is said; make a new one"
    ),
    "precondition-failed": ProblemType(
        412, "It has changed meanwhile", "what changed is named; read it again and send its tag"
    ),
    "body-too-large": ProblemType(
        413,
        "The body is too large",
        f"send at most {MOST_BODY_BYTES // 1_000_000} MB at once; of a file to measure "
        f"{MOST_FILE_BYTES // 1_000_000} MB, and a coarser one if it takes too much memory",
    ),
    "unsupported-media-type": ProblemType(
        415, "The body's form is not understood", "send a Content-Type that is named"
    ),
    "invalid-request": ProblemType(
        422, "The request has faults", "members wrong, missing, unknown, or against each other"
    ),
    "invalid-rates": ProblemType(422, "The rate sheet has faults", "the same of a rate sheet"),
    "no-rates": ProblemType(
        422, "There are no rates to price with", "send 'rates', or import a sheet into the store"
    ),
    "cannot-be-priced": ProblemType(
        422, "There is no price for this", "no price reaches the aim, or an amount reaches 10¹⁵"
    ),
    "cannot-be-sealed": ProblemType(
        422,
        "The price cannot be sealed",
        "it is not the shop's own by its rates in force, or those were recalled; each reason is "
        "told",
    ),
    "needs-confirming": ProblemType(
        422,
        "A price would move by much",
        "each is named: look at it, then confirm or leave it out",
    ),
    "cannot-be-measured": ProblemType(
        422, "The file cannot be measured", "it is cut off, not what it says, or takes too long"
    ),
    "other-body": ProblemType(
        422, "The Idempotency-Key was used for another body", "take a new key for a new change"
    ),
    "precondition-needed": ProblemType(
        428,
        "Say what you have seen",
        "send If-Match with the tag that you read, or If-None-Match: * for a new one",
    ),
    "too-many-requests": ProblemType(429, "Too many requests", "Retry-After says when to go on"),
    "service-busy": ProblemType(
        503, "The service is busy", "it answers as many as it may; ask again after Retry-After"
    ),
    "took-too-long": ProblemType(
        503, "It takes too long", "the time for a request is over; ask for less at once"
    ),
    "internal-error": ProblemType(500, "The service has a fault", "it is logged; nothing was done"),
    "store-unavailable": ProblemType(
        503, "The store cannot be read", "ask again after Retry-After, or tell the shop"
    ),
    "store-read-only": ProblemType(
        503,
        "The store may not be written",
        "it may not be written: nothing was saved, quotes go on; tell the shop",
    ),
    "store-busy": ProblemType(503, "The store is busy", "ask again after Retry-After"),
    "store-full": ProblemType(507, "The store is full", "make room, then send it again"),
}

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
HEADERS = {
    401: {"WWW-Authenticate": 'Bearer realm="gramhour"'},
    503: {"Retry-After": SECONDS_TO_WAIT},
}


def problem_table() -> str:
    """Write the table of all types, as Markdown."""
    head = "| type | status | title | when, or what helps |\n|---|---|---|---|\n"
    return head + "".join(
        f"| `/problems/{name}` | {kind.status} | {kind.title} | {kind.says} |\n"
        for name, kind in PROBLEMS.items()
    )


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
    """Tell what the framework refused by itself: routing, methods, sizes."""
    kind = OF_STATUS.get(error.status_code)
    if kind is None:
        is_ours = error.status_code >= HTTPStatus.INTERNAL_SERVER_ERROR
        kind = "internal-error" if is_ours else "malformed-document"
    return Refused(kind, (Fault(UNSET, PROBLEMS[kind].says),))

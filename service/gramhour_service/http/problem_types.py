"""The table of all refusals: of each type its status, its title, and what helps."""

from typing import NamedTuple

from gramhour_service.http.settings import (
    MOST_BODY_BYTES,
    MOST_FILE_BYTES,
    MOST_LISTS,
    MOST_TOML_BYTES,
    MOST_VALUES,
)


class ProblemType(NamedTuple):
    """A kind of refusal: its status, its title, and when it is given or what helps."""

    status: int
    title: str
    says: str


PROBLEMS = {
    "malformed-document": ProblemType(
        400, "The body cannot be read", "not JSON, not UTF-8, too deep, a member twice, or empty"
    ),
    "malformed-host": ProblemType(
        400,
        "The Host header cannot be read",
        "send one Host: the service's name or address, and its port, with no other signs",
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
        f"send at most {MOST_BODY_BYTES // 1_000_000} MB at once, {MOST_VALUES:,} values and "
        f"{MOST_LISTS:,} lists, {MOST_TOML_BYTES // 1_000_000} MB of TOML; of a file to measure "
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


def problem_table() -> str:
    """Write the table of all types, as Markdown."""
    head = "| type | status | title | when, or what helps |\n|---|---|---|---|\n"
    return head + "".join(
        f"| `/problems/{name}` | {kind.status} | {kind.title} | {kind.says} |\n"
        for name, kind in PROBLEMS.items()
    )

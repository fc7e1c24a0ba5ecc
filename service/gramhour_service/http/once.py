"""Calls that may be sent twice under a word of the caller's own: done once, answered alike."""

from collections.abc import Callable
from datetime import datetime

from sqlite_utils import Database

from gramhour_service.http.operation import Parameter
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import Asked, query_asked
from gramhour_service.store.answered import Answer, Call, OtherBody, answer_before, keep_answer
from gramhour_service.store.opening import writing

LONGEST_KEY = 200
IDEMPOTENCY_KEY = Parameter(
    "Idempotency-Key",
    "a word of your own for this change: sent again with the same body, it gets the same answer",
    {"type": "string", "minLength": 1, "maxLength": LONGEST_KEY},
    place="header",
)


def call_of(request: Asked, route: str, body: bytes) -> Call | None:
    """Read the caller's word for the call, if it gave one. Raises ``Refused``."""
    key = request.headers.get("idempotency-key")
    if key is None:
        return None
    if not 0 < len(key) <= LONGEST_KEY:
        detail = f"Idempotency-Key must have 1 to {LONGEST_KEY} characters"
        raise refused("invalid-request", detail)
    asked = f"{query_asked(request)}\n{request.headers.get('content-type', '')}\n"
    return Call(request.state.asker.name, route, key, asked.encode() + body)


def once(store: Database, call: Call | None, now: datetime, do: Callable[[], Answer]) -> Answer:
    """Do something once, however often it is sent under the same word; answer it alike.

    Raises ``Refused`` if the word was sent with another body, and whatever ``do`` raises.
    """
    if call is None:
        return do()
    with writing(store):
        try:
            before = answer_before(store, call, now)
        except OtherBody:
            detail = "it was sent before with another body; take a new one for another change"
            raise refused("other-body", detail) from None
        if before is not None:
            return before
        answer = do()
        keep_answer(store, call, answer, now)
        return answer

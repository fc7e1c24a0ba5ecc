"""What state a caller has seen, by the tags it sends (RFC 9110, 13.1): another one is refused."""

from collections.abc import Callable

from gramhour_service.http.operation import Parameter
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import ANY, Asked, tags_sent

TAG = {"type": "string"}
IF_MATCH = Parameter("If-Match", "the tag that you read, to change it", TAG, place="header")
IF_NONE_MATCH = Parameter("If-None-Match", "`*`, to make a new one", TAG, place="header")

CheckSeen = Callable[[str | None, Callable[[], str]], None]
"""Takes the tag of what is there (none if nothing is) and who says what happened to it since."""


def precondition(request: Asked, thing: str, *, may_create: bool) -> CheckSeen:
    """Read what state the caller has seen; the function refuses any other.

    Raises ``Refused`` if they do not say, or would overwrite whatever there is.
    """
    known = tags_sent(request, "if-match")
    is_new = may_create and tags_sent(request, "if-none-match") == {ANY}
    if (not known and not is_new) or ANY in known:
        detail = f"send If-Match with the tag that you read, or If-None-Match: * for a new {thing}"
        raise refused("precondition-needed", detail)

    def check(tag: str | None, told: Callable[[], str]) -> None:
        if tag is None and known:
            detail = f"there is no such {thing}; send If-None-Match: * to make it"
            raise refused("precondition-failed", detail)
        if tag is not None and (is_new or tag not in known):
            raise refused("precondition-failed", f"it is {tag} by now: {told()}")

    return check

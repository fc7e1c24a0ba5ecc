"""What can go wrong with a call, as a tree.

    GramhourError
    ├── Unreachable        no answer came: no connection, cut off, too slow, nothing installed
    ├── Refusal            the service says no, and why: a problem with all its faults
    ├── UnexpectedAnswer   what came is not an answer of this service
    ├── NotCompared        a large comparison has no result, or none in time; it says how it is
    └── NotFinished        a repricing that was waited for; it says how it is
        ├── RepricingFailed      it ended without a result
        ├── RepricingBrokenOff   the process that computed it was ended
        └── StillRunning         it goes on; wait for it again

Errors of httpx, and of what it stands on, never reach the caller; ``of_httpx`` says which of ours
stands for each.
"""

from typing import Any

import httpx
from msgspec import UNSET

from gramhour.contract.compared import ComparisonRun
from gramhour.contract.problem import Fault, Problem
from gramhour.contract.repricing import Repricing
from gramhour.faults import beside
from gramhour.resume import Resume

LONGEST_BODY_SHOWN = 500


class GramhourError(Exception):
    """A call that has no answer. ``resume`` is set where many quotes broke off."""

    resume: Resume | None = None


class Unreachable(GramhourError):
    """No answer came, as often as it was tried. The cause is the error of the last try."""


class Refusal(GramhourError):
    """The service says no, and why.

    ``sent`` is what was asked, as plain values. ``retry_after`` is set where the service says in
    how many seconds to ask again.

    >>> try:
    ...     client.quote(planter | {"quantity": 0})
    ... except Refusal as refusal:
    ...     print(refusal.type, refusal.faults[0].pointer)
    ...     print(refusal.beside_request())
    invalid-request /quantity
    The request has faults (422 invalid-request)
    /quantity: 0
        must be from 1 to 100000, not 0
    """

    def __init__(self, problem: Problem, sent: Any = UNSET, retry_after: float | None = None):
        """Keep the problem beside what was asked."""
        self.problem, self.sent, self.retry_after = problem, sent, retry_after
        places = [f"{fault.place}: {fault.detail}".lstrip(": ") for fault in self.faults]
        super().__init__(f"{self.status} {self.type}: {'; '.join(places) or problem.detail}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent whole to another process."""
        made_of = (self.problem, self.sent, self.retry_after)
        return Refusal, made_of, {"resume": self.resume}

    @property
    def type(self) -> str:
        """The stable word for the kind of refusal, such as ``invalid-request``."""
        return self.problem.type.rpartition("/")[2]

    @property
    def status(self) -> int:
        """The status of the answer."""
        return self.problem.status

    @property
    def faults(self) -> list[Fault]:
        """Every fault found, each with its place."""
        return self.problem.errors

    def beside_request(self) -> str:
        """Write every fault beside what was asked at its place."""
        return beside(self.problem, self.sent)


class UnexpectedAnswer(GramhourError):
    """What came is not an answer of this service: another program's, or a much newer one's.

    ``status`` is 0 where nothing of an answer could be read; ``body`` is its beginning.
    """

    def __init__(self, says: str, status: int = 0, body: bytes | str = b"") -> None:
        """Keep what came: of bytes the beginning, a text as it is."""
        self.says, self.status = says, status
        if isinstance(body, bytes):
            body = body[:LONGEST_BODY_SHOWN].decode("utf-8", "replace")
        self.body = body
        came = f"; it begins with {self.body[:80]!r}" if self.body else ""
        super().__init__(f"{says}{f' (status {status})' if status else ''}{came}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent whole to another process."""
        made_of = (self.says, self.status, self.body)
        return UnexpectedAnswer, made_of, {"resume": self.resume}


class NotFinished(GramhourError):
    """A repricing that was waited for is not finished. ``repricing`` says how it is."""

    def __init__(self, repricing: Repricing) -> None:
        """Keep how it is."""
        self.repricing = repricing
        says = f": {repricing.says}" if repricing.says else ""
        state = repricing.state.replace("_", " ")
        super().__init__(
            f"repricing {repricing.id}: {state}, {repricing.done} of {repricing.of} done{says}"
        )

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent whole to another process."""
        return type(self), (self.repricing,)


class RepricingFailed(NotFinished):
    """It ended without a result; it says why."""


class RepricingBrokenOff(NotFinished):
    """The process that computed it was ended; make a new one."""


class StillRunning(NotFinished):
    """It goes on, longer than one was ready to wait; wait for it again."""


class NotCompared(GramhourError):
    """A large comparison came to nothing, or to nothing in time. ``run`` says how it is."""

    def __init__(self, run: ComparisonRun) -> None:
        """Keep how it is."""
        self.run = run
        says = f": {run.says}" if run.says else ""
        state = run.state.replace("_", " ")
        super().__init__(f"comparison {run.id}: {state}, {run.done} of {run.of} done{says}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent whole to another process."""
        return type(self), (self.run,)


class Closed(httpx.TransportError):
    """The client was closed, or has its application in another process: our own, as httpx's."""


class TooLarge(httpx.DecodingError):
    """An answer was broken off because it is larger than any of the service."""


class TooSlow(httpx.ReadTimeout):
    """An answer was broken off because it took too long as a whole."""


OF_HTTPX = (httpx.HTTPError, httpx.InvalidURL, httpx.CookieConflict, httpx.StreamError)
"""Every root of httpx's own tree of errors."""

OF_CARRYING = (*OF_HTTPX, UnicodeError, OSError)
"""Those, and what comes through them from below: a name that no host can have, a socket's."""

WILL_NOT_PASS = (Closed, httpx.UnsupportedProtocol, httpx.LocalProtocolError)
"""Trouble of transport that comes of how the client was made, so that no retry helps."""

SAYS: dict[type[BaseException], str] = {
    Closed: "the client is closed",
    TooLarge: "the answer is too large",
    TooSlow: "the answer was not whole in time (timeout 'whole')",
    httpx.ConnectTimeout: "no connection in time (timeout 'connect')",
    httpx.WriteTimeout: "the request did not leave in time (timeout 'send')",
    httpx.ReadTimeout: "no answer in time (timeout 'answer', of a file 'measured')",
    httpx.PoolTimeout: "no connection was free in time (timeout 'free_connection')",
    httpx.ConnectError: "no connection; is the service running there?",
    httpx.ProxyError: "the proxy gave no connection",
    httpx.UnsupportedProtocol: "the url must begin with http:// or https://",
    httpx.LocalProtocolError: "the request cannot be sent as it is; look at the key",
    httpx.RemoteProtocolError: "the answer broke off",
    httpx.TransportError: "the connection broke",
    httpx.InvalidURL: "the url is none",
    httpx.DecodingError: "the answer cannot be unpacked",
    httpx.TooManyRedirects: "the answer leads in circles",
    httpx.HTTPStatusError: "the status was not accepted",
    httpx.HTTPError: "the request failed",
    httpx.CookieConflict: "the answer's cookies contradict each other",
    httpx.StreamError: "the answer was read out of turn",
    UnicodeError: "no host can have such a name",
    OSError: "the connection broke",
}
"""What each error means, the nearest class first; the others inherit."""


def of_httpx(error: Exception, asked: str) -> GramhourError:
    """Say which error of ours stands for one of httpx's. ``asked`` is the method and the URL."""
    says = next(SAYS[kind] for kind in type(error).__mro__ if kind in SAYS)
    detail = str(error)
    told = f"{asked}: {says}{f' ({detail})' if detail else ''}"
    if isinstance(error, httpx.TransportError | httpx.InvalidURL | UnicodeError | OSError):
        return Unreachable(told)
    return UnexpectedAnswer(told)


def may_pass(error: Exception) -> bool:
    """Say whether asking again may help."""
    return isinstance(error, httpx.TransportError) and not isinstance(error, WILL_NOT_PASS)

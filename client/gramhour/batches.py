"""Many quotes in batches: asks one batch until all of it is answered.

Each request has a number, from 0. What came before a connection broke is kept, and only the
rest is asked for again.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, Literal, NamedTuple, Protocol, TypeVar

import httpx
import msgspec
from msgspec import UNSET, UnsetType

from gramhour import calls
from gramhour.answers import check
from gramhour.arrived import Arrived
from gramhour.building import Caller, Http, build
from gramhour.calls import Call
from gramhour.contract.answer import BatchAnswer, PriceBatchAnswer, PriceQuote, Quote
from gramhour.contract.problem import Problem
from gramhour.errors import GramhourError, UnexpectedAnswer
from gramhour.retries import wait_before_next
from gramhour.sending import Conversation, Wait

A = TypeVar("A", bound=BatchAnswer | PriceBatchAnswer)
MOST_REQUESTS = 1_000
USUAL_REQUESTS = 200

ASKED = "POST /v1/quotes/batch"


class Referring(msgspec.Struct):
    """What a request says of itself that its answer must repeat."""

    reference: Any = UNSET


class View(NamedTuple, Generic[A]):
    """A view of quotes: its name, how to read an answer in it, and to make one of a problem."""

    name: Literal["cost", "price"]
    read: Callable[["Line"], A]
    of_problem: Callable[[str | UnsetType, Problem], A]


class Line(msgspec.Struct):
    """A line of an answer: a quote or a problem, or, as the last one, how many there were."""

    reference: str | UnsetType = UNSET
    quote: msgspec.Raw | UnsetType = UNSET
    problem: msgspec.Raw | UnsetType = UNSET
    done: int | UnsetType = UNSET


def _cost_problem(reference: str | UnsetType, problem: Problem) -> BatchAnswer:
    return BatchAnswer(reference=reference, problem=problem)


def _price_problem(reference: str | UnsetType, problem: Problem) -> PriceBatchAnswer:
    return PriceBatchAnswer(reference=reference, problem=problem)


def _read_cost(line: Line) -> BatchAnswer:
    if line.quote is UNSET:
        return _cost_problem(line.reference, _read_problem(line))
    quote = msgspec.json.decode(line.quote, type=Quote)
    return BatchAnswer(reference=line.reference, quote=quote)


def _read_price(line: Line) -> PriceBatchAnswer:
    if line.quote is UNSET:
        return _price_problem(line.reference, _read_problem(line))
    quote = msgspec.json.decode(line.quote, type=PriceQuote)
    return PriceBatchAnswer(reference=line.reference, quote=quote)


def _read_problem(line: Line) -> Problem:
    if line.problem is UNSET:
        raise ValueError("neither a quote nor a problem")
    return msgspec.json.decode(line.problem, type=Problem)


COST = View("cost", _read_cost, _cost_problem)
PRICE = View("price", _read_price, _price_problem)


@dataclass(frozen=True, slots=True)
class Batch(Generic[A]):
    """Requests in a row: the lines to ask by number, and what is ``known`` of them already."""

    lines: Mapping[int, bytes]
    known: Mapping[int, A]


@dataclass(frozen=True, slots=True)
class Came(Generic[A]):
    """What came of a batch by number, and the error if it could not be finished.

    What came now is a line still, to be read when it is given: read quotes take much more room.
    """

    view: View[A]
    answers: Mapping[int, A | Line]
    error: GramhourError | None = None

    def read(self, number: int) -> A | None:
        """Read the answer to a request, if it came. Raises ``UnexpectedAnswer``."""
        found = self.answers.get(number)
        if not isinstance(found, Line):
            return found
        try:
            return self.view.read(found)
        except (ValueError, RecursionError) as error:
            body = msgspec.json.encode(found)
            raise _unreadable(number, error, httpx.codes.OK, body) from error


class Lines(NamedTuple):
    """The lines that came whole, what arrived, and the error of the first that is no such line.

    Without its last line an answer counts as broken off.
    """

    whole: list[Line]
    arrived: Arrived
    error: UnexpectedAnswer | None = None


class Stop(Protocol):
    """Says whether nothing is to be asked again: a thread's event, or one of asyncio."""

    def is_set(self) -> bool:
        """Say so."""
        ...


def ask_batch(
    http: Http, caller: Caller, batch: Batch[A], view: View[A], stop: Stop
) -> Conversation[Came[A]]:
    """Ask for a batch until all of it is answered, or there is no hope of more.

    Once ``stop`` is set nothing is asked again.
    """
    answers: dict[int, A | Line] = dict(batch.known)
    failures = 0
    while not stop.is_set() and (left := [n for n in batch.lines if n not in answers]):
        call = calls.batch([batch.lines[number] for number in left], view.name)
        try:
            arrived = yield build(http, caller, call)
            assert arrived is not None
            came = _own(read_lines(call, arrived, left), batch, left)
            answers.update(zip(left, came.whole, strict=False))
            if came.error is not None:
                return Came(view, answers, came.error)
            if len(came.whole) == len(left):
                break
            failures = 1 if came.whole else failures + 1
            seconds = wait_before_next(caller.retries, failures, came.arrived)
            if seconds is not None and not stop.is_set():
                yield Wait(seconds)
            else:
                check(call, came.arrived)
        except GramhourError as error:
            return Came(view, answers, error)
    return Came(view, answers)


def read_lines(call: Call[bytes], arrived: Arrived, left: Sequence[int]) -> Lines:
    """Read the lines that came whole: answers to the requests of these numbers."""
    if arrived.status != httpx.codes.OK or arrived.media_type != call.accept:
        return Lines([], arrived)
    *bodies, _ = arrived.body.split(b"\n")
    lines = list[Line]()
    for body in bodies:
        try:
            lines.append(msgspec.json.decode(body, type=Line))
        except (ValueError, RecursionError) as error:
            number = left[min(len(lines), len(left) - 1)]
            return Lines(lines, arrived, _unreadable(number, error, arrived.status, body))
    done = lines.pop().done if lines and lines[-1].done is not UNSET else None
    if done is None and len(lines) <= len(left):
        broken = arrived.broken or httpx.RemoteProtocolError("its last line did not come")
        return Lines(lines, replace(arrived, broken=broken))
    if not len(lines) == len(left) == done:
        says = f"{len(left)} requests have {len(lines)} answers, and {done} are said to be there"
        return Lines([], arrived, UnexpectedAnswer(says, arrived.status))
    return Lines(lines, replace(arrived, broken=None))


def _own(came: Lines, batch: Batch[A], left: Sequence[int]) -> Lines:
    """Keep the lines up to the first that has the reference of another request."""
    for place, (number, line) in enumerate(zip(left, came.whole, strict=False)):
        sent = msgspec.json.decode(batch.lines[number], type=Referring).reference
        if isinstance(sent, str) and line.reference not in (UNSET, sent):
            says = f"the answer to request {number} ({sent!r}) is said to be for {line.reference!r}"
            error = UnexpectedAnswer(f"{ASKED}: {says}", came.arrived.status)
            return Lines(came.whole[:place], came.arrived, error)
    return came


def _unreadable(number: int, error: Exception, status: int, body: bytes) -> UnexpectedAnswer:
    says = f"{ASKED}: the answer to request {number} cannot be read: {error}"
    return UnexpectedAnswer(says, status, body)

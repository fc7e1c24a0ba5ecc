"""Many quotes in batches: cuts requests into batches, and asks one batch until all is answered.

Each request has a number, from 0. What came before a connection broke is kept, and only the
rest is asked for again.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from threading import Event
from typing import Generic, Literal, NamedTuple, TypeVar

import httpx
import msgspec
from msgspec import UNSET, UnsetType

from gramhour import calls
from gramhour.answers import check
from gramhour.arrived import Arrived
from gramhour.building import Caller, Http, build
from gramhour.calls import Call, Request
from gramhour.contract.answer import BatchAnswer, PriceBatchAnswer, PriceQuote, Quote
from gramhour.contract.problem import Problem
from gramhour.errors import GramhourError, UnexpectedAnswer
from gramhour.resume import Resume
from gramhour.retries import wait_before_next
from gramhour.sending import Conversation, Wait

A = TypeVar("A", bound=BatchAnswer | PriceBatchAnswer)
MOST_REQUESTS = 1_000
MOST_BYTES = 8_000_000
"""A body of the service may have 10 MB."""


class View(NamedTuple, Generic[A]):
    """A view of quotes: its name, and how to read an answer in it."""

    name: Literal["cost", "price"]
    read: Callable[["Line"], A]


class Line(msgspec.Struct):
    """A line of an answer: a quote or a problem, or, as the last one, how many there were."""

    reference: str | UnsetType = UNSET
    quote: msgspec.Raw | UnsetType = UNSET
    problem: msgspec.Raw | UnsetType = UNSET
    done: int | UnsetType = UNSET


def _read_cost(line: Line) -> BatchAnswer:
    if line.quote is not UNSET:
        quote = msgspec.json.decode(line.quote, type=Quote)
        return BatchAnswer(reference=line.reference, quote=quote)
    return BatchAnswer(reference=line.reference, problem=_read_problem(line))


def _read_price(line: Line) -> PriceBatchAnswer:
    if line.quote is not UNSET:
        quote = msgspec.json.decode(line.quote, type=PriceQuote)
        return PriceBatchAnswer(reference=line.reference, quote=quote)
    return PriceBatchAnswer(reference=line.reference, problem=_read_problem(line))


def _read_problem(line: Line) -> Problem:
    if line.problem is UNSET:
        raise ValueError("neither a quote nor a problem")
    return msgspec.json.decode(line.problem, type=Problem)


COST = View("cost", _read_cost)
PRICE = View("price", _read_price)


@dataclass(frozen=True, slots=True)
class Batch(Generic[A]):
    """Requests in a row: the lines to ask by number, and what is ``known`` of them already."""

    first: int
    lines: Mapping[int, bytes]
    known: Mapping[int, A]


@dataclass(frozen=True, slots=True)
class Came(Generic[A]):
    """What came of a batch: answers by number, and the error if it could not be finished."""

    first: int
    answers: Mapping[int, A]
    error: GramhourError | None = None

    def in_order(self) -> Iterator[A]:
        """Give the answers in order, up to the first that is missing."""
        number = self.first
        while number in self.answers:
            yield self.answers[number]
            number += 1


class Cutter(Generic[A]):
    """Cuts a stream of requests into batches as they come in."""

    def __init__(self, size: int, resume: Resume) -> None:
        """Leave out what need not be asked again."""
        self._size, self._resume = size, resume
        self._number = 0
        self._start()

    def add(self, request: Request) -> Batch[A] | None:
        """Take a request; give the batch before it if that has no room for it."""
        number, self._number = self._number, self._number + 1
        if number < self._resume.given:
            return None
        known = self._resume.kept.get(number)
        line = msgspec.json.encode(request) if known is None else b""
        full = None
        if not self._has_room(len(line)):
            full = self._batch()
            self._start()
        if known is None:
            self._lines[number] = line
            self._bytes += len(line) + 1
        else:
            self._known[number] = known
        return full

    def rest(self) -> Batch[A] | None:
        """Give what is left at the end."""
        return self._batch() if self._lines or self._known else None

    def _has_room(self, more_bytes: int) -> bool:
        count = len(self._lines) + len(self._known)
        return not count or (count < self._size and self._bytes + more_bytes <= MOST_BYTES)

    def _start(self) -> None:
        self._bytes = 0
        self._lines: dict[int, bytes] = {}
        self._known: dict[int, A] = {}

    def _batch(self) -> Batch[A]:
        first = min((*self._lines, *self._known))
        return Batch(first, self._lines, self._known)


def ask_batch(
    http: Http, caller: Caller, batch: Batch[A], view: View[A], stop: Event
) -> Conversation[Came[A]]:
    """Ask for a batch until all of it is answered, or there is no hope of more.

    Once ``stop`` is set nothing is asked again.
    """
    answers = dict(batch.known)
    failures = 0
    while not stop.is_set() and (left := [n for n in batch.lines if n not in answers]):
        call = calls.batch([batch.lines[number] for number in left], view.name)
        try:
            arrived = yield build(http, caller, call)
            assert arrived is not None
            came, arrived = read_lines(call, arrived, view, len(left))
            answers.update(zip(left, came, strict=False))
            failures = 1 if came else failures + 1
            seconds = wait_before_next(caller.retries, failures, arrived)
            if seconds is not None and not stop.is_set():
                yield Wait(seconds)
            else:
                check(call, arrived)
        except GramhourError as error:
            return Came(batch.first, answers, error)
    return Came(batch.first, answers)


def read_lines(
    call: Call[bytes], arrived: Arrived, view: View[A], asked: int
) -> tuple[list[A], Arrived]:
    """Read the answers that came whole. Without its last line an answer counts as broken off.

    Raises ``UnexpectedAnswer``.
    """
    if arrived.status != httpx.codes.OK or arrived.media_type != call.accept:
        return [], arrived
    *whole, _ = arrived.body.split(b"\n")
    try:
        lines = [msgspec.json.decode(each, type=Line) for each in whole]
        done = lines.pop().done if lines and lines[-1].done is not UNSET else None
        answers = [view.read(line) for line in lines]
    except ValueError as error:
        raise UnexpectedAnswer(f"a line cannot be read: {error}", arrived.status) from error
    if done is None and len(answers) <= asked:
        broken = arrived.broken or httpx.RemoteProtocolError("its last line did not come")
        return answers, replace(arrived, broken=broken)
    if not len(answers) == asked == done:
        says = f"{asked} requests have {len(answers)} answers, and {done} are said to be there"
        raise UnexpectedAnswer(says, arrived.status)
    return answers, replace(arrived, broken=None)

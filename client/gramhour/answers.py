"""Reads what arrived: an answer of its type, or the error that stands for it."""

from http import HTTPStatus
from typing import TypeVar

import msgspec

from gramhour.arrived import Arrived
from gramhour.calls import Call
from gramhour.contract.problem import Problem
from gramhour.errors import GramhourError, Refusal, UnexpectedAnswer, of_httpx
from gramhour.retries import retry_after

T = TypeVar("T")
PROBLEM = "application/problem+json"


def read_answer(call: Call[T], arrived: Arrived) -> T:
    """Read the answer of a call. Raises ``GramhourError``."""
    check(call, arrived)
    try:
        return call.decode(arrived.body)
    except (ValueError, RecursionError) as error:
        says = f"{_asked(call)}: this cannot be read as its answer: {error}"
        raise UnexpectedAnswer(says, arrived.status, arrived.body) from error


def check(call: Call[T], arrived: Arrived) -> None:
    """Raise the error that stands for what arrived, unless it is an answer."""
    if arrived.broken is not None:
        raise of_httpx(arrived.broken, _asked(call)) from arrived.broken
    if arrived.media_type == PROBLEM and arrived.status >= HTTPStatus.BAD_REQUEST:
        raise _refusal(call, arrived)
    has_form = arrived.status == HTTPStatus.NO_CONTENT or arrived.media_type == call.accept
    if arrived.status not in call.statuses or not has_form:
        says = f"{_asked(call)}: not an answer of this service, but {arrived.media_type or 'bare'}"
        raise UnexpectedAnswer(says, arrived.status, arrived.body)


def _refusal(call: Call[T], arrived: Arrived) -> GramhourError:
    try:
        problem = msgspec.json.decode(arrived.body, type=Problem)
    except (ValueError, RecursionError) as error:
        says = f"{_asked(call)}: a refusal that cannot be read: {error}"
        return UnexpectedAnswer(says, arrived.status, arrived.body)
    return Refusal(problem, call.sent(), retry_after(arrived.headers))


def _asked(call: Call[T]) -> str:
    return f"{call.method} {call.path}"

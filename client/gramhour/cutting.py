"""Cuts a stream of requests into batches."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Generic

import msgspec
from msgspec import UNSET, UnsetType

from gramhour.batches import A, Batch, View
from gramhour.calls import Request
from gramhour.contract.problem import Fault, Problem
from gramhour.resume import Resume

MOST_BYTES = 8_000_000
"""A body of the service may have 10 MB."""


class Cutter(Generic[A]):
    """Cuts a stream of requests into batches as they come in."""

    def __init__(self, view: View[A], size: int, resume: Resume) -> None:
        """Leave out what need not be asked again."""
        self._view, self._size, self._resume = view, size, resume
        self._number = 0
        self._start()

    def add(self, request: Request) -> Batch[A] | None:
        """Take a request; give the batch before it if that has no room for it.

        What cannot be written as JSON has its problem here and now, and disturbs no other.
        """
        number, self._number = self._number, self._number + 1
        if number < self._resume.given:
            return None
        known, line = self._resume.kept.get(number), b""
        if known is None:
            try:
                line = msgspec.json.encode(request)
            except (TypeError, ValueError, OverflowError, RecursionError) as error:
                known = self._view.of_problem(_reference(request), _not_written(error))
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
        return Batch(self._lines, self._known)


def _reference(request: Request) -> str | UnsetType:
    """Find the reference of a request, as the service would echo it."""
    if isinstance(request, Mapping):
        found = request.get("reference", UNSET)
    else:
        found = getattr(request, "reference", UNSET)
    return found if isinstance(found, str) else UNSET


def _not_written(error: Exception) -> Problem:
    """Say of a request what the service would, had it been able to be sent."""
    fault = Fault("", f"cannot be written as JSON: {error}")
    return Problem(
        type="/problems/invalid-request",
        title="The request has faults",
        status=HTTPStatus.UNPROCESSABLE_ENTITY,
        detail=fault.detail,
        errors=[fault],
    )

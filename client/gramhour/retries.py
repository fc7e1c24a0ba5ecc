"""When a call is asked again, and after how long."""

import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import TypeAlias

import httpx

from gramhour.arrived import Arrived
from gramhour.errors import may_pass

PASSING = frozenset({429, 502, 503, 504})
"""Statuses of a trouble that passes by itself. A 500 is a fault, and would be one again."""
MOST_DOUBLINGS = 32

Chance: TypeAlias = Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Retries:
    """How often a call is tried, and how many seconds pass in between.

    A call is tried at most ``attempts`` times. Before each retry a random part of ``first_wait``
    passes, doubled with each failure up to ``longest_wait`` ("full jitter", so that many clients
    do not come back at once). What the service asks for in ``Retry-After`` comes on top; if that
    is more than ``longest_retry_after``, the call fails at once and says so. ``chance`` draws from
    0 up to 1.

    >>> Retries(attempts=1)  # never asks again
    Retries(attempts=1, first_wait=0.25, longest_wait=10.0, longest_retry_after=60.0)
    """

    attempts: int = 4
    first_wait: float = 0.25
    longest_wait: float = 10.0
    longest_retry_after: float = 60.0
    chance: Chance = field(default=random.random, repr=False)

    def __post_init__(self) -> None:
        """Refuse, in the programmer's face, what could never be done."""
        if self.attempts < 1:
            raise ValueError(f"attempts must be 1 or more, not {self.attempts}")
        for name in ("first_wait", "longest_wait", "longest_retry_after"):
            seconds = getattr(self, name)
            if not seconds >= 0:  # nor NaN
                raise ValueError(f"{name} must be 0 or more seconds, not {seconds}")


RETRIES = Retries()


def wait_before_next(retries: Retries, failures: int, arrived: Arrived) -> float | None:
    """Say how many seconds to wait after so many failures; ``None``: do not ask again."""
    if failures >= retries.attempts or not _may_pass(arrived):
        return None
    asked_for = retry_after(arrived.headers) or 0.0
    if asked_for > retries.longest_retry_after:
        return None
    doubled = retries.first_wait * 2.0 ** min(failures - 1, MOST_DOUBLINGS)
    return asked_for + retries.chance() * min(doubled, retries.longest_wait)


def _may_pass(arrived: Arrived) -> bool:
    if arrived.broken is not None:
        return may_pass(arrived.broken)
    return arrived.status in PASSING


def retry_after(headers: httpx.Headers) -> float | None:
    """Read ``Retry-After`` (RFC 9110, 10.2.3): seconds, or a date, by the answer's own clock."""
    told = headers.get("retry-after", "").strip()
    if told.isascii() and told.isdecimal():
        return float(told[:9])
    with suppress(ValueError, OverflowError):
        then, now = _instant(told), _instant(headers.get("date", ""))
        return max(0.0, (then - now).total_seconds())
    return None


def _instant(told: str) -> datetime:
    instant = parsedate_to_datetime(told)
    return instant if instant.tzinfo else instant.replace(tzinfo=UTC)

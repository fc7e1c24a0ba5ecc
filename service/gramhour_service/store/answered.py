"""Answers to calls that may be sent twice: the same call again gets the same answer.

Kept for a day, for each caller and route, in the same transaction as what the call did.
"""

import hashlib
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from sqlite_utils import Database

KEPT = timedelta(hours=24)


class Call(NamedTuple):
    """A call that may be repeated: who made it, where, under which word of theirs, and its body."""

    caller: str
    route: str
    idempotency_key: str
    body: bytes

    @property
    def body_hash(self) -> bytes:
        """The body's hash, by which another body is told apart."""
        return hashlib.sha256(self.body).digest()


class Answer(NamedTuple):
    """What a call was answered."""

    status: int
    answer: bytes


class OtherBody(Exception):
    """The word was used before, for another body."""


def answer_before(store: Database, call: Call, now: datetime) -> Answer | None:
    """Find what the same call was answered before. Raises ``OtherBody``."""
    row = store.execute(
        "SELECT body_hash, status, answer FROM answered_call "
        "WHERE caller = ? AND route = ? AND idempotency_key = ? AND answered_at > ?",
        (call.caller, call.route, call.idempotency_key, _written(now - KEPT)),
    ).fetchone()
    if row is None:
        return None
    if row[0] != call.body_hash:
        raise OtherBody
    return Answer(row[1], row[2])


def keep_answer(store: Database, call: Call, answer: Answer, now: datetime) -> None:
    """Keep what a call was answered, within the transaction of what it did; forget old ones."""
    store.execute("DELETE FROM answered_call WHERE answered_at <= ?", (_written(now - KEPT),))
    store.execute(
        "INSERT INTO answered_call VALUES (?, ?, ?, ?, ?, ?, ?)",
        (*call[:3], call.body_hash, *answer, _written(now)),
    )


def _written(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")

"""Answers to calls that may be sent twice are kept for a day, with what the call did or not."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlite_utils import Database

from gramhour_service.store.answered import (
    Answer,
    Call,
    OtherBody,
    answer_before,
    keep_answer,
)
from gramhour_service.store.opening import writing
from tests.store.shops import NOON

CALL = Call("desk", "/v1/rate-changes", "a", b'{"changes": []}')
ANSWER = Answer(201, b'{"rates_revision":2}')
DAY = timedelta(hours=24)
OTHERS = {
    "another caller": CALL._replace(caller="shop"),
    "another route": CALL._replace(route="/v1/repricings"),
    "another word": CALL._replace(idempotency_key="A"),
}


def keep(store: Database, call: Call = CALL, now: datetime = NOON, answer: Answer = ANSWER) -> None:
    with writing(store):
        keep_answer(store, call, answer, now)


def keep_and_fail(store: Database, call: Call) -> None:
    with writing(store):
        keep_answer(store, call, ANSWER, NOON)
        assert answer_before(store, call, NOON) == ANSWER
        raise ZeroDivisionError


def kept(store: Database) -> list[tuple[str, str, str]]:
    rows = store.execute(
        "SELECT caller, route, idempotency_key FROM answered_call ORDER BY 1, 2, 3"
    )
    return [(row[0], row[1], row[2]) for row in rows]


def test_a_call_that_was_not_answered_has_no_answer(store: Database) -> None:
    assert answer_before(store, CALL, NOON) is None


def test_the_same_call_has_the_answer_to_the_byte(store: Database) -> None:
    keep(store, answer=Answer(200, b"\x00\xff\r\n"))
    assert answer_before(store, CALL, NOON) == Answer(200, b"\x00\xff\r\n")


@pytest.mark.parametrize("other", OTHERS.values(), ids=list(OTHERS))
def test_the_answer_is_none_of(store: Database, other: Call) -> None:
    keep(store)
    assert answer_before(store, other, NOON) is None
    keep(store, other, answer=Answer(200, b"{}"))
    assert answer_before(store, CALL, NOON) == ANSWER
    assert len(kept(store)) == 2


@pytest.mark.parametrize("body", [b"", b'{"changes":[]}', CALL.body + b"\n"])
def test_another_body_under_the_same_word_is_told_apart(store: Database, body: bytes) -> None:
    keep(store)
    with pytest.raises(OtherBody):
        answer_before(store, CALL._replace(body=body), NOON)


def test_an_answer_is_there_until_a_day_is_over(store: Database) -> None:
    keep(store)
    last = NOON + DAY - timedelta(seconds=1)
    assert answer_before(store, CALL, last) == ANSWER
    assert answer_before(store, CALL, NOON + DAY) is None
    assert answer_before(store, CALL._replace(body=b"other"), NOON + DAY) is None


def test_a_day_is_a_day_whatever_the_clocks_time_zone(store: Database) -> None:
    keep(store, now=NOON.astimezone(timezone(timedelta(hours=13))))
    east, west = (timezone(timedelta(hours=hours)) for hours in (12, -11))
    last = NOON + DAY - timedelta(seconds=1)
    for zone in (east, UTC, west):
        assert answer_before(store, CALL, last.astimezone(zone)) == ANSWER
        assert answer_before(store, CALL, (NOON + DAY).astimezone(zone)) is None


def test_old_answers_make_room_for_the_next(store: Database) -> None:
    keep(store)
    younger = CALL._replace(idempotency_key="b")
    keep(store, younger, NOON + timedelta(seconds=1))
    keep(store, CALL._replace(body=b"other"), NOON + DAY)
    assert kept(store) == [("desk", "/v1/rate-changes", "a"), ("desk", "/v1/rate-changes", "b")]
    assert answer_before(store, CALL._replace(body=b"other"), NOON + DAY) == ANSWER
    assert answer_before(store, younger, NOON + DAY) == ANSWER


def test_an_answer_is_kept_with_what_the_call_did_or_not_at_all(store: Database) -> None:
    with pytest.raises(ZeroDivisionError):
        keep_and_fail(store, CALL)
    assert answer_before(store, CALL, NOON) is None


def test_of_a_writing_that_fails_in_part_the_rest_is_kept(store: Database) -> None:
    other = CALL._replace(idempotency_key="b")
    with writing(store):
        keep_answer(store, CALL, ANSWER, NOON)
        with pytest.raises(ZeroDivisionError):
            keep_and_fail(store, other)
        with writing(store, keep=False):
            keep_answer(store, other, ANSWER, NOON)
            assert answer_before(store, other, NOON) == ANSWER
    assert kept(store) == [("desk", "/v1/rate-changes", "a")]

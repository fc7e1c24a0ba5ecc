"""The same change sent again gets the same answer, for a day, and is made once."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests.http.asking import CHANGES, DEARER, LABOUR, change, newest, refused, value_of
from tests.http.door import NOW, Door, opened, problem_of, secret

DEARER_STILL = {**DEARER, "value": "35"}


class Clock:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def timed(own_path: Path, clock: Clock) -> Iterator[Door]:
    with opened(Settings(store=own_path), clock) as door:
        yield door


def answer_of(door: Door, *changes: Any, **more: Any) -> tuple[int, bytes, str | None]:
    answer = change(door, *changes, **more)
    return answer.status_code, answer.content, answer.headers.get("location")


def test_a_repeated_call_gets_the_same_answer_and_is_made_once(own_shop: Door) -> None:
    first = answer_of(own_shop, DEARER, word="a")
    assert (first[0], first[2]) == (201, "/v1/revisions/2")
    assert [answer_of(own_shop, DEARER, word="a") for _ in range(3)] == [first] * 3
    assert newest(own_shop) == 2


def test_the_answer_is_looked_up_before_any_precondition(own_shop: Door) -> None:
    first = answer_of(own_shop, DEARER, word="a")
    assert change(own_shop, DEARER_STILL, based_on=2).status_code == 201
    assert answer_of(own_shop, DEARER, word="a") == first
    assert change(own_shop, DEARER).status_code == 409
    assert change(own_shop, DEARER, word="b").status_code == 409
    assert (value_of(own_shop, LABOUR), newest(own_shop)) == ("35", 3)


def test_a_call_that_changed_nothing_is_answered_the_same_even_when_it_would_now(
    own_shop: Door,
) -> None:
    same = {**DEARER, "value": "32"}
    first = answer_of(own_shop, same, word="a")
    assert (first[0], first[2]) == (200, None)
    assert change(own_shop, DEARER).status_code == 201
    assert answer_of(own_shop, same, word="a") == first
    assert newest(own_shop) == 2


def test_a_word_that_was_used_for_another_body_is_refused(own_shop: Door) -> None:
    assert change(own_shop, DEARER, word="a").status_code == 201
    for other in ({"based_on": 2}, {"note": "x"}):
        answer = change(own_shop, DEARER, word="a", **other)
        assert (problem_of(answer)[0], answer.status_code) == ("other-body", 422)
    assert newest(own_shop) == 2


def test_what_was_refused_is_tried_anew_under_the_same_word(own_shop: Door) -> None:
    assert change(own_shop, DEARER, based_on=2, word="a").status_code == 422
    assert change(own_shop, DEARER_STILL).status_code == 201
    assert change(own_shop, DEARER, based_on=2, word="a").status_code == 201
    assert newest(own_shop) == 3


def test_a_word_is_each_callers_own(own_shop: Door, own_path: Path) -> None:
    store = open_store(own_path)
    add_key(store, "desk", secret("desk"), ["rates"], now=NOW)
    store.close()
    assert change(own_shop, DEARER, word="a").status_code == 201
    body = {"changes": [DEARER_STILL], "based_on_revision": 2}
    headers = {"Idempotency-Key": "a"}
    answer = own_shop.ask("POST", CHANGES, "desk", json=body, headers=headers)
    assert (answer.status_code, answer.json()["rates_revision"]) == (201, 3)
    assert change(own_shop, DEARER, word="a").json()["rates_revision"] == 2


def test_words_that_differ_are_different_calls(own_shop: Door) -> None:
    assert change(own_shop, DEARER, word="a").status_code == 201
    for number, word in enumerate(["A", "a ~", "aa", "x" * 200], start=2):
        value = {**DEARER, "value": str(40 + number)}
        assert change(own_shop, value, based_on=number, word=word).status_code == 201


def test_an_answer_is_kept_for_a_day_and_then_forgotten(timed: Door, clock: Clock) -> None:
    first = answer_of(timed, DEARER, word="a")
    clock.now = NOW + timedelta(hours=24) - timedelta(seconds=1)
    assert answer_of(timed, DEARER, word="a") == first
    assert problem_of(change(timed, DEARER_STILL, based_on=2, word="a"))[0] == "other-body"
    clock.now = NOW + timedelta(hours=24)
    assert change(timed, DEARER, word="a").status_code == 409
    assert change(timed, DEARER_STILL, based_on=2, word="a").status_code == 201
    assert newest(timed) == 3


def test_reading_an_answer_again_does_not_keep_it_longer(timed: Door, clock: Clock) -> None:
    answer_of(timed, DEARER, word="a")
    for hours in (8, 16, 23):
        clock.now = NOW + timedelta(hours=hours)
        assert answer_of(timed, DEARER, word="a")[0] == 201
    clock.now = NOW + timedelta(hours=24)
    assert change(timed, DEARER, word="a").status_code == 409


def test_a_trial_keeps_no_answer_and_reads_none(own_shop: Door) -> None:
    trial = change(own_shop, DEARER, word="a", trial=True)
    assert (trial.status_code, trial.json()["trial"]) == (200, True)
    saved = change(own_shop, DEARER_STILL, word="a")
    assert (saved.status_code, saved.json()["trial"]) == (201, False)
    again = change(own_shop, DEARER_STILL, word="a", trial=True)
    assert (again.status_code, refused(again)[0]) == (409, "moved-on")


@pytest.mark.parametrize("word", ["", "x" * 201], ids=["empty", "too long"])
def test_a_word_has_a_length(shop: Door, word: str) -> None:
    answer = change(shop, DEARER, word=word)
    assert (problem_of(answer)[0], answer.status_code) == ("invalid-request", 422)
    assert newest(shop) == 1

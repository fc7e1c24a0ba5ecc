"""Many quotes: in order, a batch at a time, several at once, never all in memory."""

import asyncio
import threading
import time
import tracemalloc
from collections.abc import AsyncIterator, Iterator
from itertools import islice
from typing import Any

import pytest

from gramhour import AsyncClient, BatchAnswer, Client, Refusal, Resume, UnexpectedAnswer
from gramhour.batches import COST
from gramhour.cutting import MOST_BYTES, Cutter
from tests import demo
from tests.client.demand import ONE_PIECE
from tests.client.misbehaving import Asked, Handler, misbehaving, says, too_many
from tests.client.rows import NDJSON, echo, is_answer_to, problem_for, requests


@pytest.mark.parametrize("batch_size", [1, 7, 10, 1000])
@pytest.mark.parametrize("at_once", [1, 3])
def test_answers_come_in_order_each_with_its_quote_or_problem(
    shop: Client, batch_size: int, at_once: int
) -> None:
    answers = list(shop.quote_many(requests(30), batch_size=batch_size, at_once=at_once))
    assert len(answers) == 30
    assert all(is_answer_to(number, answer) for number, answer in enumerate(answers))


def test_prices_come_the_same_way(shop: Client) -> None:
    answers = list(shop.quote_price_many(requests(30), batch_size=7))
    assert all(is_answer_to(number, answer) for number, answer in enumerate(answers))
    assert not hasattr(answers[1].quote, "cost")


def test_no_requests_have_no_answers(shop: Client) -> None:
    assert list(shop.quote_many([])) == []


async def _streamed(count: int) -> AsyncIterator[dict[str, Any]]:
    for request in requests(count):
        await asyncio.sleep(0)
        yield request


@pytest.mark.parametrize("is_streamed", [False, True], ids=["iterable", "async iterable"])
def test_the_asynchronous_client_gives_them_in_order_too(is_streamed: bool) -> None:
    async def ask() -> list[BatchAnswer]:
        sent = _streamed(30) if is_streamed else requests(30)
        async with AsyncClient.local(rates=demo.SHEET) as client:
            return [answer async for answer in client.quote_many(sent, batch_size=7)]

    answers = asyncio.run(ask())
    assert len(answers) == 30
    assert all(is_answer_to(number, answer) for number, answer in enumerate(answers))


def test_a_refusal_of_a_whole_batch_ends_them_all() -> None:
    problem = (
        b'{"type":"/problems/key-needed","title":"A key is needed","status":401,'
        b'"detail":"send a key","errors":[{"detail":"send a key"}]}'
    )
    turn = says(problem, 401, "application/problem+json")
    with misbehaving(turn) as server, Client(url=server.url) as client:
        with pytest.raises(Refusal, match="401 key-needed: send a key"):
            list(client.quote_many(requests(5000)))
        assert len(server.asked) <= 4


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(b'{"done":1}\n', id="fewer answers than said"),
        pytest.param(problem_for(b'{"reference":1}') + b'{"done":2}\n', id="cut in its midst"),
        pytest.param(b'{"reference":"a"}\n{"done":1}\n', id="neither quote nor problem"),
        pytest.param(b'{"quote":{}}\n{"done":1}\n', id="no quote of ours"),
        pytest.param(b"[]\n", id="no object"),
        pytest.param(b'{"done":0}\n', id="none at all"),
        pytest.param(b"<p>\n", id="another program's"),
    ],
)
def test_an_answer_that_does_not_add_up_is_unexpected(body: bytes) -> None:
    with misbehaving(says(body, 200, NDJSON)) as server, Client(url=server.url) as client:
        with pytest.raises(UnexpectedAnswer):
            list(client.quote_many(requests(1)))
        assert len(server.asked) == 1


def test_more_answers_than_requests_are_unexpected() -> None:
    twice = problem_for(b'{"reference":"a"}') * 2
    with (
        misbehaving(says(twice + b'{"done":2}\n', 200, NDJSON)) as server,
        Client(url=server.url) as client,
        pytest.raises(UnexpectedAnswer, match="1 requests have 2 answers"),
    ):
        list(client.quote_many(requests(1)))


def test_at_most_so_many_batches_are_under_way_at_once() -> None:
    lock, at_once, most = threading.Lock(), 0, 0
    three = threading.Event()

    def counted(handler: Handler, asked: Asked) -> None:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
            if at_once == 3:
                three.set()
        three.wait(10)
        threading.Event().wait(0.01)  # for a fourth, if there is one
        with lock:
            at_once -= 1
        echo(handler, asked)

    with misbehaving(counted) as server, Client(url=server.url) as client:
        assert len(list(client.quote_many(requests(120), batch_size=10, at_once=3))) == 120
    assert most == 3


def test_requests_are_taken_in_only_as_they_are_needed() -> None:
    taken = 0

    def counted() -> Iterator[dict[str, Any]]:
        nonlocal taken
        for request in requests(10_000):
            taken += 1
            yield request

    with misbehaving(echo) as server, Client(url=server.url) as client:
        many = client.quote_many(counted(), batch_size=10, at_once=3)
        assert len(list(islice(many, 25))) == 25
        many.close()
        assert taken <= 25 + 10 * 3 + 1


def test_whoever_goes_away_does_not_wait_for_retries() -> None:
    two = threading.Barrier(2)

    def first_only(handler: Handler, asked: Asked) -> None:
        turn = echo if b'"row 0"' in asked.body else too_many("50")
        two.wait(60)
        turn(handler, asked)

    with misbehaving(first_only) as server, Client(url=server.url) as client:
        many = client.quote_many(requests(40), batch_size=10, at_once=2)
        next(many)
        started = time.monotonic()
        many.close()
        assert time.monotonic() - started < 40


def test_memory_does_not_grow_with_the_number_of_requests() -> None:
    def echo_and_forget(handler: Handler, asked: Asked) -> None:
        handler.server.asked.clear()
        echo(handler, asked)

    def large(count: int) -> Iterator[dict[str, Any]]:
        return ({**each, "reference": f"{each['reference']:1000}"} for each in requests(count))

    peaks = []
    with misbehaving(echo_and_forget) as server, Client(url=server.url) as client:
        for count in (1_000, 8_000):
            tracemalloc.start()
            many = client.quote_many(large(count), batch_size=100, at_once=2)
            assert sum(1 for _ in many) == count
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    assert peaks[1] < peaks[0] * 2, peaks  # eight times, if all were kept


def test_a_batch_is_smaller_where_its_requests_are_large() -> None:
    cutter = Cutter[BatchAnswer](COST, 1000, Resume())
    large = {**ONE_PIECE, "reference": "x" * (MOST_BYTES // 3)}
    batches = [batch for batch in [*map(cutter.add, [large] * 7), cutter.rest()] if batch]
    assert [len(batch.lines) for batch in batches] == [2, 2, 2, 1]
    assert [min(batch.lines) for batch in batches] == [0, 2, 4, 6]


@pytest.mark.parametrize(
    "wrong", [{"batch_size": 0}, {"batch_size": 1001}, {"at_once": 0}], ids=str
)
def test_sizes_that_cannot_be_are_refused(shop: Client, wrong: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"1 to 1000|1 or more"):
        shop.quote_many(requests(1), **wrong)  # type: ignore[arg-type]

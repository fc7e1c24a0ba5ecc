"""Many quotes when something goes wrong: what came is given first, and nothing is waited for."""

import asyncio
import time
from collections.abc import AsyncIterator, Iterator
from typing import Any

import pytest

from gramhour import (
    AsyncClient,
    BatchAnswer,
    Client,
    GramhourError,
    Resume,
    Retries,
    UnexpectedAnswer,
)
from tests.client.misbehaving import Asked, Handler, misbehaving, says, too_many
from tests.client.rows import NDJSON, breaks_off, echo, problem_for, requests

ONCE = Retries(attempts=1)
DEEP = b"[" * 100_000 + b"]" * 100_000


def references(answers: list[BatchAnswer]) -> list[str]:
    return [str(answer.reference) for answer in answers]


def first_fails(handler: Handler, asked: Asked) -> None:
    """Fail for good soon, and for the other batch have the client wait long."""
    if b'"row 0"' in asked.body:
        time.sleep(0.2)
        says(b"", 500, "text/html")(handler, asked)
    else:
        too_many("50")(handler, asked)


@pytest.mark.parametrize("is_async", [False, True], ids=["Client", "async"])
def test_a_failure_for_good_waits_for_no_retry_of_others(is_async: bool) -> None:
    async def ask(url: str) -> None:
        async with AsyncClient(url=url) as client:
            many = client.quote_many(requests(20), batch_size=10, at_once=2)
            [answer async for answer in many]

    def ask_sync(url: str) -> None:
        with Client(url=url) as client:
            list(client.quote_many(requests(20), batch_size=10, at_once=2))

    started = time.monotonic()
    with misbehaving(first_fails) as server, pytest.raises(UnexpectedAnswer):
        asyncio.run(ask(server.url)) if is_async else ask_sync(server.url)
    assert time.monotonic() - started < 20


def test_a_second_failure_forgets_nothing_that_was_kept() -> None:
    kept = {number: BatchAnswer(reference=f"row {number}") for number in range(10, 40)}
    turn = says(b"", 500, "text/html")
    with misbehaving(turn) as server, Client(url=server.url, retries=ONCE) as client:
        many = client.quote_many(requests(40), batch_size=10, at_once=1, resume=Resume(0, kept))
        with pytest.raises(UnexpectedAnswer) as broken:
            list(many)
    assert broken.value.resume == Resume(0, kept)


@pytest.mark.parametrize(
    "odd", [{"q": object()}, {"q": "\ud800"}], ids=["no JSON", "half a surrogate"]
)
def test_a_request_that_cannot_be_written_has_its_problem_and_disturbs_no_other(
    odd: dict[str, Any],
) -> None:
    rows = [*requests(25), {"reference": "odd", **odd}, *requests(5)]
    with misbehaving(echo) as server, Client(url=server.url) as client:
        answers = list(client.quote_many(rows, batch_size=10))
    assert references(answers) == [row["reference"] for row in rows]
    problem = answers[25].problem
    assert problem
    assert problem.detail.startswith("cannot be written as JSON: ")


def test_what_the_callers_own_iterator_raises_comes_after_what_was_before_it() -> None:
    def rows() -> Iterator[dict[str, Any]]:
        yield from requests(25)
        raise LookupError("no more")

    async def streamed() -> AsyncIterator[dict[str, Any]]:
        for row in rows():
            yield row

    async def ask(url: str, given: list[BatchAnswer]) -> None:
        async with AsyncClient(url=url) as client:
            async for answer in client.quote_many(streamed(), batch_size=10):
                given.append(answer)  # noqa: PERF401 (what was given before it raises counts)

    with misbehaving(echo) as server, Client(url=server.url) as client:
        one, two = list[BatchAnswer](), list[BatchAnswer]()
        with pytest.raises(LookupError, match="no more"):
            one.extend(client.quote_many(rows(), batch_size=10))
        with pytest.raises(LookupError, match="no more"):
            asyncio.run(ask(server.url, two))
    assert references(one) == references(two) == [f"row {number}" for number in range(25)]


def test_answers_are_given_while_a_slow_source_goes_on() -> None:
    taken = 0

    def slow() -> Iterator[dict[str, Any]]:
        nonlocal taken
        for row in requests(100):
            time.sleep(0.02)
            taken += 1
            yield row

    with misbehaving(echo) as server, Client(url=server.url) as client:
        many = client.quote_many(slow(), batch_size=10, at_once=4)
        next(many)
        assert taken < 40
        many.close()


@pytest.mark.parametrize(
    "line", [b"<p>", b'{"quote":{}}', b"{}", b'{"quote":%s}' % DEEP], ids=lambda line: line[:12]
)
def test_a_line_that_cannot_be_read_takes_no_other_with_it(line: bytes) -> None:
    def turn(handler: Handler, asked: Asked) -> None:
        lines = [problem_for(each) for each in asked.body.splitlines()]
        lines[6] = line + b"\n"
        handler.tell(200, b"".join(lines) + b'{"done":%d}\n' % len(lines), NDJSON)

    given = list[BatchAnswer]()
    with misbehaving(turn) as server, Client(url=server.url) as client:
        with pytest.raises(UnexpectedAnswer, match="the answer to request 6 cannot") as broken:
            given.extend(client.quote_many(requests(9)))
        server.turns = (echo,)
        given.extend(client.quote_many(requests(9), resume=broken.value.resume))
    assert references(given) == [f"row {number}" for number in range(9)]


def test_nothing_is_missing_when_only_the_last_line_did_not_come() -> None:
    with misbehaving(breaks_off(10)) as server, Client(url=server.url, retries=ONCE) as client:
        assert len(list(client.quote_many(requests(10)))) == 10
        assert len(server.asked) == 1


def test_answers_in_another_order_are_not_believed() -> None:
    def turned(handler: Handler, asked: Asked) -> None:
        lines = [problem_for(line) for line in asked.body.splitlines()[::-1]]
        handler.tell(200, b"".join(lines) + b'{"done":%d}\n' % len(lines), NDJSON)

    with (
        misbehaving(turned) as server,
        Client(url=server.url) as client,
        pytest.raises(UnexpectedAnswer, match=r"'row 0'.* is said to be for 'row 3'"),
    ):
        list(client.quote_many(requests(4)))


@pytest.mark.parametrize(
    ("body", "media_type", "status"),
    [
        (b'{"status":"ready","rules":"1","rates":"none","x":%s}' % DEEP, "application/json", 200),
        (b'{"type":%s}' % DEEP, "application/problem+json", 422),
    ],
    ids=["answer", "problem"],
)
def test_an_answer_that_is_too_deep_is_unexpected(
    body: bytes, media_type: str, status: int
) -> None:
    with misbehaving(says(body, status, media_type)) as server, Client(url=server.url) as client:
        with pytest.raises(GramhourError) as unexpected:
            client.health()
        assert type(unexpected.value) is UnexpectedAnswer


def test_the_callers_own_generator_is_closed_with_the_answers() -> None:
    closed = list[str]()

    async def streamed() -> AsyncIterator[dict[str, Any]]:
        try:
            for row in requests(1000):
                yield row
        finally:
            closed.append("closed")

    async def ask(url: str) -> None:
        async with AsyncClient(url=url) as client:
            many = client.quote_many(streamed(), batch_size=10)
            await anext(many)
            await many.aclose()
            assert closed == ["closed"]
            assert asyncio.all_tasks() == {asyncio.current_task()}

    with misbehaving(echo) as server:
        asyncio.run(ask(server.url))

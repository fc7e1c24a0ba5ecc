"""What came before a connection broke is kept: in one call, and from one call to the next."""

import asyncio
import json
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gramhour import (
    AsyncClient,
    BatchAnswer,
    Client,
    GramhourError,
    Resume,
    Retries,
    UnexpectedAnswer,
    Unreachable,
)
from tests.client.misbehaving import (
    Asked,
    Handler,
    Turn,
    hangs_up,
    is_busy,
    misbehaving,
    says,
    too_many,
)
from tests.client.rows import breaks_off, echo, ends_early, is_answer_to, requests
from tests.client.running import KEY, Running, a_store, running

QUICK = Retries(attempts=3, chance=lambda: 0.0)


def lines_asked(*turns: Turn, count: int = 20, batch_size: int = 10) -> list[int]:
    """Ask for many, one batch at a time, and count the lines of each request at the server."""
    with misbehaving(*turns) as server, Client(url=server.url, retries=QUICK) as client:
        many = client.quote_many(requests(count), batch_size=batch_size, at_once=1)
        answers = [answer.reference for answer in many]
        assert answers == [f"row {number}" for number in range(count)]
        return [len(asked.body.splitlines()) for asked in server.asked]


@pytest.mark.parametrize(
    ("turns", "lines"),
    [
        pytest.param((echo,), [10, 10], id="whole"),
        pytest.param((breaks_off(4), echo), [10, 6, 10], id="cut within a line"),
        pytest.param((breaks_off(0), echo), [10, 10, 10], id="cut before the first"),
        pytest.param((echo, breaks_off(10), echo), [10, 10], id="cut before the last line"),
        pytest.param((ends_early, echo), [10, 5, 10], id="ended without its last line"),
        pytest.param((hangs_up, echo), [10, 10, 10], id="hung up"),
        pytest.param((is_busy(), too_many("0"), echo), [10, 10, 10, 10], id="503 and 429"),
        pytest.param((*[breaks_off(1)] * 9, echo), [*range(10, 0, -1), 10], id="a line each time"),
    ],
)
def test_what_came_is_kept_and_only_the_rest_is_asked_again(
    turns: tuple[Turn, ...], lines: list[int]
) -> None:
    assert lines_asked(*turns) == lines


TURNS: st.SearchStrategy[tuple[int | None, Turn]] = st.one_of(
    st.integers(0, 9).map(lambda after: (after, breaks_off(after))),
    st.just((5, ends_early)),
    st.sampled_from([(0, hangs_up), (0, is_busy()), (0, too_many("0")), (None, echo)]),
)
"""Turns, each with the number of lines that it answers whole (none: all of them)."""


@pytest.fixture(scope="module")
def http() -> Iterator[httpx.Client]:
    with httpx.Client() as opened:
        yield opened


@given(
    turns=st.lists(TURNS, max_size=12),
    count=st.integers(1, 30),
    batch_size=st.integers(1, 12),
    at_once=st.integers(1, 4),
)
@settings(max_examples=40)
def test_however_connections_break_nothing_is_missing_and_nothing_that_came_is_asked_again(
    http: httpx.Client,
    turns: list[tuple[int | None, Turn]],
    count: int,
    batch_size: int,
    at_once: int,
) -> None:
    patient = Retries(attempts=20, chance=lambda: 0.0)
    last: tuple[int | None, Turn] = (None, echo)
    with (
        misbehaving(*(turn for _, turn in [*turns, last])) as server,
        Client(url=server.url, http=http, retries=patient, sleep=lambda _: None) as client,
    ):
        many = client.quote_many(requests(count), batch_size=batch_size, at_once=at_once)
        assert [answer.reference for answer in many] == [f"row {n}" for n in range(count)]
        came: Counter[str] = Counter()
        for asked, (whole, _) in zip(server.asked, [*turns, *[last] * count], strict=False):
            came.update(json.loads(line)["reference"] for line in asked.body.splitlines()[:whole])
    assert came == Counter(f"row {number}" for number in range(count))


def test_many_broken_off_for_good_can_be_gone_on_with_later() -> None:
    turns = (echo, breaks_off(4), hangs_up)
    with misbehaving(*turns) as server, Client(url=server.url, retries=QUICK) as client:
        given, many = list[BatchAnswer](), client.quote_many(requests(40), batch_size=10, at_once=1)
        with pytest.raises(Unreachable) as broken:
            given.extend(many)
        assert [answer.reference for answer in given] == [f"row {n}" for n in range(14)]
        assert broken.value.resume == Resume(14, {})
        server.turns = (echo,)
        server.asked.clear()
        more = client.quote_many(requests(40), batch_size=10, at_once=1, resume=broken.value.resume)
        assert [answer.reference for answer in more] == [f"row {n}" for n in range(14, 40)]
        assert sum(len(asked.body.splitlines()) for asked in server.asked) == 26


def test_the_asynchronous_client_says_too_where_it_broke_off() -> None:
    async def ask(url: str) -> list[str]:
        given, resume = list[str](), None
        async with AsyncClient(url=url, retries=QUICK) as client:
            try:
                async for answer in client.quote_many(requests(40), batch_size=10, at_once=2):
                    given.append(str(answer.reference))
            except Unreachable as error:
                resume = error.resume
            server.turns = (echo,)
            more = client.quote_price_many(requests(40), batch_size=10, resume=resume)
            return given + [str(answer.reference) async for answer in more]

    with misbehaving(echo, echo, breaks_off(4), hangs_up) as server:
        assert asyncio.run(ask(server.url)) == [f"row {number}" for number in range(40)]


def test_later_batches_that_came_already_are_kept_for_the_resumption() -> None:
    both_asked = threading.Barrier(2)

    def first_fails(handler: Handler, asked: Asked) -> None:
        both_asked.wait(5)
        if b'"row 0"' in asked.body:
            says(b"", 500, "text/html")(handler, asked)
        else:
            echo(handler, asked)

    with misbehaving(first_fails) as server, Client(url=server.url, retries=QUICK) as client:
        many = client.quote_many(requests(20), batch_size=10, at_once=2)
        with pytest.raises(UnexpectedAnswer) as broken:
            next(many)
        resume = broken.value.resume
        assert resume is not None
        assert (resume.given, sorted(resume.kept)) == (0, list(range(10, 20)))
        server.turns = (echo,)
        server.asked.clear()
        more = client.quote_many(requests(20), batch_size=15, resume=resume)
        assert [answer.reference for answer in more] == [f"row {n}" for n in range(20)]
        assert sum(len(asked.body.splitlines()) for asked in server.asked) == 10


@pytest.mark.parametrize(
    ("ask", "batch_size"),
    [pytest.param("ask_all", 1000, id="Client"), pytest.param("ask_all_async", 200, id="async")],
)
def test_a_service_killed_midway_is_asked_for_the_rest_when_it_is_back(
    tmp_path: Path, ask: str, batch_size: int
) -> None:
    """Killed after 2.3 of 5 batches: 2,300 of 5,000."""
    store, count, answered = a_store(tmp_path / "store"), batch_size * 5, batch_size * 23 // 10
    lock, second = threading.Lock(), list[Running]()
    with ExitStack() as lives:
        first = lives.enter_context(running(store, tmp_path / "first", dies_after=answered))

        def come_back(_: float) -> None:
            with lock:
                first.process.wait(10)
                if not second:
                    life = running(store, tmp_path / "second", port=first.port)
                    second.append(lives.enter_context(life))

        answers = globals()[ask](first.url, count, batch_size, come_back)
        assert len(answers) == count
        assert all(is_answer_to(number, answer) for number, answer in enumerate(answers))
        assert sum(first.asked()) >= answered
        assert 0 < sum(second[0].asked()) <= count - answered + batch_size


Wait = Callable[[float], None]


def ask_all(url: str, count: int, batch_size: int, wait: Wait) -> list[BatchAnswer]:
    with Client(url=url, key=KEY, sleep=wait) as client:
        return list(client.quote_many(requests(count), batch_size=batch_size))


def ask_all_async(url: str, count: int, batch_size: int, wait: Wait) -> list[BatchAnswer]:
    async def sleep(seconds: float) -> None:
        wait(seconds)

    async def ask() -> list[BatchAnswer]:
        async with AsyncClient(url=url, key=KEY, sleep=sleep) as client:
            many = client.quote_many(requests(count), batch_size=batch_size)
            return [answer async for answer in many]

    return asyncio.run(ask())


def test_a_run_that_failed_is_gone_on_with_by_a_second_one(tmp_path: Path) -> None:
    store, given = a_store(tmp_path / "store"), list[BatchAnswer]()
    with running(store, tmp_path / "first", dies_after=2300) as first:
        once = Retries(attempts=1)
        with (
            Client(url=first.url, key=KEY, retries=once) as client,
            pytest.raises(GramhourError) as broken,
        ):
            given.extend(client.quote_many(requests(5000)))
    resume = broken.value.resume
    assert resume is not None
    assert resume.given == len(given)
    with (
        running(store, tmp_path / "second") as second,
        Client(url=second.url, key=KEY) as client,
    ):
        given += client.quote_many(requests(5000), resume=resume)
        assert all(is_answer_to(number, answer) for number, answer in enumerate(given))
        assert len(given) == 5000
        assert sum(second.asked()) <= 2700 + 1000

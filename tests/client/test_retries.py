"""What is tried again, how often and after how long, at a real server that misbehaves."""

import asyncio

import httpx
import pytest

from gramhour import (
    AsyncClient,
    Client,
    GramhourError,
    Refusal,
    Retries,
    Timeouts,
    Unreachable,
)
from gramhour.arrived import Arrived
from gramhour.retries import retry_after, wait_before_next
from tests.client.misbehaving import (
    Turn,
    cut,
    hangs_up,
    is_busy,
    is_slow,
    misbehaving,
    says,
    too_many,
)

READY = b'{"status":"ready","rules":"1","rates":"stored"}'
HALF = Retries(chance=lambda: 0.5)


def asked_and_waited(*turns: Turn, retries: Retries = HALF) -> tuple[int, list[float], str]:
    """Ask for health with each client; both must ask, wait and end alike."""
    seen = []
    with misbehaving(*turns) as server:
        waits = list[float]()
        timeouts = Timeouts(answer=0.2)
        with Client(
            url=server.url, retries=retries, timeouts=timeouts, sleep=waits.append
        ) as client:
            try:
                end = client.health().status
            except GramhourError as error:
                end = type(error).__name__
        seen.append((len(server.asked), waits, end))
    with misbehaving(*turns) as server:
        waits, end = asyncio.run(_waited(server.url, retries))
        seen.append((len(server.asked), waits, end))
    assert seen[0] == seen[1]
    return seen[0]


async def _waited(url: str, retries: Retries) -> tuple[list[float], str]:
    waits = list[float]()

    async def sleep(seconds: float) -> None:
        waits.append(seconds)

    timeouts = Timeouts(answer=0.2)
    async with AsyncClient(url=url, retries=retries, timeouts=timeouts, sleep=sleep) as client:
        try:
            end = (await client.health()).status
        except GramhourError as error:
            end = type(error).__name__
    return waits, end


@pytest.mark.parametrize(
    "trouble",
    [
        pytest.param(hangs_up, id="hangs up"),
        pytest.param(cut(READY, 20), id="cut in its midst"),
        pytest.param(is_busy(), id="503"),
        pytest.param(says(b"<html>", 502, "text/html"), id="502 of a proxy"),
        pytest.param(is_slow(0.5), id="slow"),
    ],
)
def test_trouble_that_passes_is_tried_again_after_twice_as_long_each_time(trouble: Turn) -> None:
    seen = asked_and_waited(trouble, trouble, says(READY))
    assert seen == (3, [0.125, 0.25], "ready")


@pytest.mark.parametrize(
    ("trouble", "end"),
    [
        pytest.param(hangs_up, "Unreachable", id="hangs up"),
        pytest.param(cut(READY, 20), "Unreachable", id="cut"),
        pytest.param(is_busy(), "Refusal", id="503"),
        pytest.param(says(b"<html>", 502, "text/html"), "UnexpectedAnswer", id="502 of a proxy"),
    ],
)
def test_a_call_is_given_up_after_its_attempts(trouble: Turn, end: str) -> None:
    assert asked_and_waited(trouble) == (4, [0.125, 0.25, 0.5], end)


def test_a_single_attempt_is_not_repeated() -> None:
    assert asked_and_waited(is_busy(), retries=Retries(attempts=1)) == (1, [], "Refusal")


def test_waits_grow_no_longer_than_the_longest() -> None:
    retries = Retries(attempts=6, first_wait=1, longest_wait=5, chance=lambda: 1.0)
    assert asked_and_waited(hangs_up, retries=retries)[1] == [1, 2, 4, 5, 5]


def test_retry_after_comes_before_the_random_part() -> None:
    seen = asked_and_waited(too_many("7"), is_busy(Retry_After="2"), says(READY))
    assert seen == (3, [7.125, 2.25], "ready")


def test_retry_after_as_a_date_is_read_by_the_answers_own_clock() -> None:
    told = httpx.Headers(
        {"Retry-After": "Fri, 31 Dec 1999 23:59:59 GMT", "Date": "Fri, 31 Dec 1999 23:59:29 GMT"}
    )  # the first is RFC 9110's own example (10.2.3)
    assert retry_after(told) == 30.0


def test_a_retry_after_that_has_passed_asks_for_no_wait() -> None:
    told = {"Retry-After": "Fri, 31 Dec 1999 23:59:59 GMT", "Date": "Sat, 01 Jan 2000 00:00:09 GMT"}
    assert retry_after(httpx.Headers(told)) == 0.0


@pytest.mark.parametrize(
    "told",
    [
        *("", "soon", "-5", "1.5", "\xb2", "Fri, 99 Dec 1999 23:59:59 GMT"),
        "Fri, 31 Dec 99999999999999999999 23:59:59 GMT",
        "Fri, 31 Dec 1999 99999999999999999999999:59:59 GMT",
        "Fri, 31 Dec 1999 23:59:59 +9999999999999999",
    ],
)
def test_a_retry_after_that_says_nothing_is_left_out(told: str) -> None:
    date = "Fri, 31 Dec 1999 23:59:29 GMT"
    assert retry_after(httpx.Headers({"Date": date, "Retry-After": told}, "latin-1")) is None


def test_a_longer_retry_after_than_the_longest_ends_the_call_and_is_told() -> None:
    with misbehaving(too_many("61")) as server, Client(url=server.url) as client:
        with pytest.raises(Refusal) as refused:
            client.health()
        assert (refused.value.retry_after, len(server.asked)) == (61.0, 1)


@pytest.mark.parametrize("status", [400, 401, 403, 404, 409, 422, 500, 501, 507])
def test_other_statuses_are_not_tried_again(status: int) -> None:
    arrived = Arrived(status)
    assert wait_before_next(Retries(), 1, arrived) is None


def test_a_service_that_is_not_there_is_unreachable() -> None:
    with misbehaving(says(READY)) as server:
        url = server.url
    retries = Retries(attempts=2)
    with (
        Client(url=url, retries=retries, sleep=lambda _: None) as client,
        pytest.raises(Unreachable, match="GET /health: no connection; is the service running"),
    ):
        client.health()


def test_each_timeout_is_named_in_what_it_ends_with() -> None:
    retries = Retries(attempts=1)
    with (
        misbehaving(is_slow(0.5)) as server,
        Client(url=server.url, retries=retries, timeouts=Timeouts(answer=0.05)) as client,
        pytest.raises(
            Unreachable, match="no answer in time \\(timeout 'answer', of a file 'measured'\\)"
        ),
    ):
        client.health()


def timeouts_of(client_timeouts: Timeouts | None, **of_http: float) -> dict[str, float | None]:
    """Ask through an httpx client of one's own, and see what it is told to wait."""
    seen = {}

    def answer(request: httpx.Request) -> httpx.Response:
        seen.update(request.extensions["timeout"])
        return httpx.Response(200, json={"status": "ready", "rules": "1", "rates": "none"})

    with httpx.Client(transport=httpx.MockTransport(answer), timeout=of_http["timeout"]) as http:
        Client(http=http, timeouts=client_timeouts).health()
    return seen


def test_timeouts_reach_the_library_below_each_under_its_name() -> None:
    given = Timeouts(connect=1, send=2, answer=3, free_connection=4)
    assert timeouts_of(given, timeout=9) == {"connect": 1, "write": 2, "read": 3, "pool": 4}


def test_a_file_that_is_measured_has_more_time_than_other_answers() -> None:
    seen: dict[str, float] = {}

    def answer(request: httpx.Request) -> httpx.Response:
        seen.update(request.extensions["timeout"])
        return httpx.Response(422, json={})

    with httpx.Client(transport=httpx.MockTransport(answer)) as http:
        client = Client(http=http, timeouts=Timeouts(answer=3, measured=70))
        for ask in (
            lambda: client.measure(b"", media_type="model/stl"),
            lambda: client.measure_toolpath(b"", machine="m", material="x"),
        ):
            seen.clear()
            with pytest.raises(GramhourError):
                ask()
            assert seen["read"] == 70


def test_an_httpx_client_of_ones_own_keeps_its_timeouts_where_none_are_given() -> None:
    assert set(timeouts_of(None, timeout=9).values()) == {9}


@pytest.mark.parametrize(
    "wrong",
    [
        *({"attempts": 0}, {"attempts": -1}, {"first_wait": -0.1}),
        *({"longest_wait": float("nan")}, {"longest_retry_after": float("nan")}),
    ],
    ids=str,
)
def test_retries_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="or more"):
        Retries(**wrong)  # type: ignore[arg-type]


def test_a_client_that_is_closed_says_so_and_does_not_ask_again() -> None:
    client = Client()
    client.close()
    with pytest.raises(Unreachable, match="the client is closed"):
        client.health()

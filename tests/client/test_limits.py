"""Answers that have no end, or are too large, are broken off."""

import asyncio
import gzip
import time

import pytest

from gramhour import AsyncClient, Client, Retries, Timeouts, UnexpectedAnswer, Unreachable
from tests.client.misbehaving import Asked, Handler, misbehaving, says

READY = b'{"status":"ready","rules":"1","rates":"stored"}'


def drips(handler: Handler, _: Asked) -> None:
    """Send an answer a byte at a time, each in time, the whole never."""
    handler.begin(200, "application/json", Content_Length="100000")
    while True:
        handler.wfile.write(b" ")
        time.sleep(0.02)


@pytest.mark.parametrize("is_async", [False, True], ids=["Client", "async"])
def test_an_answer_that_drips_is_broken_off(is_async: bool) -> None:
    patience = {"timeouts": Timeouts(answer=5, whole=0.2), "retries": Retries(attempts=1)}

    async def ask(url: str) -> None:
        async with AsyncClient(url=url, **patience) as client:  # type: ignore[arg-type]
            await client.health()

    with misbehaving(drips) as server:
        client = Client(url=server.url, **patience)  # type: ignore[arg-type]
        with client, pytest.raises(Unreachable, match="timeout 'whole'"):
            asyncio.run(ask(server.url)) if is_async else client.health()


def test_an_answer_that_unpacks_to_more_than_any_is_broken_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("gramhour.sending.MOST_BYTES_OF_ANSWER", 1_000_000)
    packed = gzip.compress(READY + b" " * 20_000_000)
    assert len(packed) < 50_000
    with (
        misbehaving(says(packed, Content_Encoding="gzip")) as server,
        Client(url=server.url) as client,
        pytest.raises(UnexpectedAnswer, match="too large"),
    ):
        client.health()

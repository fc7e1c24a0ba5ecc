"""Writes one answer of each kind into ``openapi/examples``, from the demo shop at a fixed moment.

``python -m tests.client.published`` writes them; a test compares. Old ones stay readable: an
answer that the kept file of an earlier version would not be decoded from is a broken contract.
"""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import msgspec

from gramhour import (
    BatchAnswer,
    Client,
    Health,
    PriceBatchAnswer,
    PriceQuote,
    Quote,
    StoredKind,
    StoredRate,
    StoredSheet,
    calls,
)
from gramhour.batches import COST, PRICE, Line
from gramhour.calls import Call
from gramhour.contract.problem import Problem
from tests import demo
from tests.client.demand import ONE_PIECE, PLANTER, now

FOLDER = Path(__file__).parent.parent.parent / "openapi" / "examples"
A_PROBLEM = msgspec.json.Decoder(Problem).decode
WRONG = {**ONE_PIECE, "quantity": 0, "channel": "own-shp"}
LINES = [
    msgspec.json.encode({**ONE_PIECE, "reference": "row 1"}),
    msgspec.json.encode({**WRONG, "reference": "row 2"}),
]


class Published(NamedTuple):
    """An answer: its file, the call that it answers, and how its body is read."""

    file: str
    call: Call[Any]
    read: Callable[[bytes], Any]


def _of(file: str, call: Call[Any]) -> Published:
    return Published(file, call, call.decode)


def read_cost_lines(body: bytes) -> list[BatchAnswer]:
    return [COST.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


def read_price_lines(body: bytes) -> list[PriceBatchAnswer]:
    return [PRICE.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


PUBLISHED = [
    _of("quote.json", calls.quote(PLANTER, explain=False)),
    _of("explained-quote.json", calls.quote(ONE_PIECE, explain=True)),
    _of("price-quote.json", calls.quote_price(PLANTER)),
    Published("batch-answer.ndjson", calls.batch(LINES, "cost"), read_cost_lines),
    Published("price-batch-answer.ndjson", calls.batch(LINES, "price"), read_price_lines),
    _of(
        "unit-price.txt",
        calls.unit_price(
            10,
            {
                "material": "asa-green",
                "machine": "large",
                "mass_g": "42.5",
                "print_min": 95,
                "channel": "own-shop",
            },
        ),
    ),
    _of("stored-sheet.json", calls.rates(None, None)),
    _of("stored-kind.json", calls.rates_kind("materials", None, None)),
    _of("stored-shop.json", calls.rates_kind("shop", None, None)),
    _of("stored-rate.json", calls.rate("materials", "asa-green", None, None)),
    _of("health.json", calls.health()),
    Published("problem.json", calls.quote(WRONG, explain=False), A_PROBLEM),
    Published("problem-of-parameters.json", calls.unit_price(0, {}), A_PROBLEM),
]
TYPES = {
    "quote.json": Quote,
    "explained-quote.json": Quote,
    "price-quote.json": PriceQuote,
    "unit-price.txt": Decimal,
    "stored-sheet.json": StoredSheet,
    "stored-kind.json": StoredKind,
    "stored-shop.json": StoredKind,
    "stored-rate.json": StoredRate,
    "health.json": Health,
}


def answer(client: Client, call: Call[Any]) -> bytes:
    """Ask, and give the body as it came; a document indented, so that a change can be read."""
    http, caller = client._http, client._caller
    response = http.request(
        call.method,
        caller.url + call.path,
        params=dict(call.params),
        content=call.body,
        headers={
            "Authorization": f"Bearer {caller.key}",
            "Accept": call.accept,
            "Content-Type": call.media_type,
        },
    )
    return _readable(response)


def _readable(response: httpx.Response) -> bytes:
    if not response.headers["content-type"].startswith(("application/json", "application/prob")):
        return response.content
    return msgspec.json.format(response.content, indent=1) + b"\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with Client.local(rates=demo.SHEET, now=now) as client:
        for published in PUBLISHED:
            (FOLDER / published.file).write_bytes(answer(client, published.call))


if __name__ == "__main__":
    main()

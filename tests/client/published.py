"""Writes one answer of each kind into ``openapi/examples``, from the demo shop at a fixed moment.

``python -m tests.client.published`` writes them; a test compares. Old ones stay readable: an
answer that the kept file of an earlier version would not be decoded from is a broken contract.
"""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from types import NoneType
from typing import Any, NamedTuple

import httpx
import msgspec

from gramhour import (
    BatchAnswer,
    Client,
    Health,
    Measurement,
    PriceBatchAnswer,
    PriceQuote,
    Quote,
    RevisionChanges,
    Revisions,
    SavedChanges,
    SavedRate,
    StoredKind,
    StoredRate,
    StoredRevision,
    StoredSheet,
    calls,
    calls_of_changes,
)
from gramhour.batches import COST, PRICE, Line
from gramhour.building import build
from gramhour.calls import Call
from gramhour.contract.problem import Problem
from tests import demo
from tests.client.demand import ONE_PIECE, PLANTER, now
from tests.cube import CUBE

FOLDER = Path(__file__).parent.parent.parent / "openapi" / "examples"
A_PROBLEM = msgspec.json.Decoder(Problem).decode
WRONG = {**ONE_PIECE, "quantity": 0, "channel": "own-shp"}
LINES = [
    msgspec.json.encode({**ONE_PIECE, "reference": "row 1"}),
    msgspec.json.encode({**WRONG, "reference": "row 2"}),
]


class Published(NamedTuple):
    """An answer: its file, the call that it answers after others, and how its body is read."""

    file: str
    call: Call[Any]
    read: Callable[[bytes], Any]
    after: Sequence[Call[Any]] = ()


def _of(file: str, call: Call[Any], *after: Call[Any]) -> Published:
    return Published(file, call, call.decode, after)


def read_cost_lines(body: bytes) -> list[BatchAnswer]:
    return [COST.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


def read_price_lines(body: bytes) -> list[PriceBatchAnswer]:
    return [PRICE.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


A_DAY = date(2026, 12, 7)
DEARER_WORK = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
SPARE = calls_of_changes.put_rate(("nozzles", "n10"), {"price": "9.50"}, None, None, None, new=True)
CHANGE = calls_of_changes.change_rates([DEARER_WORK], 1, A_DAY, "wage agreement", trial=False)
CHEAPER_POWER = {"kind": "shop", "code": "price_per_kwh", "value": "0.29"}
OVERRULED = calls_of_changes.change_rates(
    [{**DEARER_WORK, "value": "33.00"}, CHEAPER_POWER], 2, None, None, trial=False
)

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
    _of("measurement.json", calls.measure(CUBE, "model/stl")),
    _of("health.json", calls.health()),
    _of("saved-changes.json", OVERRULED, CHANGE),
    _of("saved-rate.json", SPARE),
    _of(
        "removed-rate.txt",
        calls_of_changes.delete_rate(("nozzles", "n10"), '"r2@2026-12-01"', None, None),
        SPARE,
    ),
    _of("revisions.json", calls_of_changes.revisions(1, None), CHANGE),
    _of("revision.json", calls_of_changes.revision(2), CHANGE),
    _of("revision-changes.json", calls_of_changes.revision_changes(3, 1), CHANGE, OVERRULED),
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
    "measurement.json": Measurement,
    "health.json": Health,
    "saved-changes.json": SavedChanges,
    "saved-rate.json": SavedRate,
    "removed-rate.txt": NoneType,
    "revisions.json": Revisions,
    "revision.json": StoredRevision,
    "revision-changes.json": RevisionChanges,
}


def answer(published: Published) -> bytes:
    """Ask a shop of its own, and give the body as it came; a document so that it can be read."""
    with Client.local(rates=demo.SHEET, now=now) as client:
        for call in published.after:
            assert _asked(client, call).is_success
        return _readable(_asked(client, published.call))


def _asked(client: Client, call: Call[Any]) -> httpx.Response:
    return client._http.send(build(client._http, client._caller, call))


def _readable(response: httpx.Response) -> bytes:
    media_type = response.headers.get("content-type", "")
    if not media_type.startswith(("application/json", "application/prob")) or not response.content:
        return response.content
    return msgspec.json.format(response.content, indent=1) + b"\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for published in PUBLISHED:
        (FOLDER / published.file).write_bytes(answer(published))


if __name__ == "__main__":
    main()

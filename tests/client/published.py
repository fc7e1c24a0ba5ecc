"""Writes one answer of each kind into ``openapi/examples``, from the demo shop at a fixed moment.

``python -m tests.client.published`` writes them; a test compares. Old ones stay readable: an
answer that the kept file of an earlier version would not be decoded from is a broken contract.
"""

import re
import time
from dataclasses import replace
from datetime import date
from decimal import Decimal
from http import HTTPStatus
from pathlib import Path
from types import NoneType
from typing import Any

import httpx
import msgspec

from gramhour import (
    BatchAnswer,
    Calibration,
    Client,
    Comparison,
    ComparisonRun,
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
    StoredWorkload,
    ToolpathMeasurement,
    calls,
    calls_of_changes,
    calls_of_comparisons,
    calls_of_measurements,
    calls_of_workload,
)
from gramhour.batches import COST, PRICE, Line
from gramhour.building import build
from gramhour.calls import Call
from gramhour.contract.problem import Problem
from tests import demo
from tests.client.demand import MANY_WAYS, NOZZLES, ONE_PIECE, PLANTER, TIMED, now
from tests.client.published_offer import (
    A_REPRICING,
    CHEAPER_POWER,
    DEARER_WORK,
    OF_THE_OFFER,
    TYPES_OF_THE_OFFER,
    Published,
    of,
)
from tests.cube import CUBE
from tests.cube_toolpath import CUBE_GCODE

FOLDER = Path(__file__).parent.parent.parent / "openapi" / "examples"
A_PROBLEM = msgspec.json.Decoder(Problem).decode
WRONG = {**ONE_PIECE, "quantity": 0, "channel": "own-shp"}
LINES = [
    msgspec.json.encode({**ONE_PIECE, "reference": "row 1"}),
    msgspec.json.encode({**WRONG, "reference": "row 2"}),
]


def read_cost_lines(body: bytes) -> list[BatchAnswer]:
    return [COST.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


def read_price_lines(body: bytes) -> list[PriceBatchAnswer]:
    return [PRICE.read(msgspec.json.decode(line, type=Line)) for line in body.splitlines()[:-1]]


A_DAY = date(2026, 12, 7)
SPARE = calls_of_changes.put_rate(("nozzles", "n10"), {"price": "9.50"}, None, None, None, new=True)
CHANGE = calls_of_changes.change_rates([DEARER_WORK], 1, A_DAY, "wage agreement", trial=False)
OVERRULED = calls_of_changes.change_rates(
    [{**DEARER_WORK, "value": "33.00"}, CHEAPER_POWER], 2, None, None, trial=False
)
BUSY = calls_of_workload.put_workload({"large": ["4.5"], "small-1": [12]}, '"w0"')

A_KEY = b"11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
"""Of RFC 8037, A.2."""
READABLE = ("application/json", "application/problem", "application/jwk-set")
A_MOMENT = b"2026-12-01T09:30:01Z"
REPRICINGS = "/v1/repricings"
PUBLISHED = [
    *OF_THE_OFFER,
    of("quote.json", calls.quote(PLANTER, explain=False)),
    of("explained-quote.json", calls.quote(ONE_PIECE, explain=True)),
    of("price-quote.json", calls.quote_price(PLANTER)),
    of("calibration.json", calls.calibrate(TIMED)),
    of("comparison.json", calls_of_comparisons.compare(NOZZLES)),
    of(
        "comparison-run.json",
        calls_of_comparisons.comparison(A_REPRICING),
        calls_of_comparisons.compare(MANY_WAYS),
    ),
    Published("batch-answer.ndjson", calls.batch(LINES, "cost"), read_cost_lines),
    Published("price-batch-answer.ndjson", calls.batch(LINES, "price"), read_price_lines),
    of(
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
    of("stored-sheet.json", calls.rates(None, None)),
    of("stored-kind.json", calls.rates_kind("materials", None, None)),
    of("stored-shop.json", calls.rates_kind("shop", None, None)),
    of("stored-rate.json", calls.rate("materials", "asa-green", None, None)),
    of("measurement.json", calls_of_measurements.measure(CUBE, "model/stl", {})),
    of(
        "toolpath-measurement.json",
        calls_of_measurements.measure_toolpath(CUBE_GCODE, "large", "asa-green", None, None),
    ),
    of("health.json", calls.health()),
    of("workload.json", calls_of_workload.workload(), BUSY),
    of("put-workload.json", BUSY),
    of("saved-changes.json", OVERRULED, CHANGE),
    of("saved-rate.json", SPARE),
    of(
        "removed-rate.txt",
        calls_of_changes.delete_rate(("nozzles", "n10"), '"r2@2026-12-01"', None, None),
        SPARE,
    ),
    of("revisions.json", calls_of_changes.revisions(1, None), CHANGE),
    of("revision.json", calls_of_changes.revision(2), CHANGE),
    of("revision-changes.json", calls_of_changes.revision_changes(3, 1), CHANGE, OVERRULED),
    Published("problem.json", calls.quote(WRONG, explain=False), A_PROBLEM),
    Published("problem-of-parameters.json", calls.unit_price(0, {}), A_PROBLEM),
]
TYPES = {
    "quote.json": Quote,
    "explained-quote.json": Quote,
    "price-quote.json": PriceQuote,
    "calibration.json": Calibration,
    "comparison.json": Comparison,
    "comparison-run.json": ComparisonRun,
    "unit-price.txt": Decimal,
    "stored-sheet.json": StoredSheet,
    "stored-kind.json": StoredKind,
    "stored-shop.json": StoredKind,
    "stored-rate.json": StoredRate,
    "measurement.json": Measurement,
    "toolpath-measurement.json": ToolpathMeasurement,
    "health.json": Health,
    "workload.json": StoredWorkload,
    "put-workload.json": StoredWorkload,
    "saved-changes.json": SavedChanges,
    "saved-rate.json": SavedRate,
    "removed-rate.txt": NoneType,
    "revisions.json": Revisions,
    "revision.json": StoredRevision,
    "revision-changes.json": RevisionChanges,
    **TYPES_OF_THE_OFFER,
}


def answer(published: Published) -> bytes:
    """Ask a shop of its own, and give the body as it came; a document so that it can be read."""
    name = A_REPRICING
    with Client.local(rates=demo.SHEET, now=now) as client:
        for call in published.after:
            response = _asked(client, call, name)
            assert response.is_success
            if call.path in (REPRICINGS, calls_of_comparisons.COMPARISONS):
                name = response.json()["id"]
        return _readable(_asked(client, published.call, name), name)


def _asked(client: Client, call: Call[Any], name: str) -> httpx.Response:
    """Ask, about the repricing of that name; one that is asked for is waited for."""
    about = replace(call, path=call.path.replace(A_REPRICING, name))
    request = build(client._http, client._caller, about)
    response = client._http.send(request)
    if call.method == "POST" and call.path == REPRICINGS:
        client.wait_for(response.json()["id"])
        response = client._http.send(request)  # under the same Idempotency-Key: the same one
    if response.status_code == HTTPStatus.ACCEPTED:
        while client.comparison(response.json()["id"]).state == "running":
            time.sleep(0.1)
    return response


def _readable(response: httpx.Response, name: str) -> bytes:
    media_type = response.headers.get("content-type", "")
    if not media_type.startswith(READABLE) or not response.content:
        return response.content
    body = response.content.replace(name.encode(), A_REPRICING.encode())
    if b'"asked_by"' in body:  # a process of its own computed it, by the world's clock
        name = msgspec.json.decode(body).get("id", A_REPRICING)
        body = body.replace(name.encode(), A_REPRICING.encode())
        body = re.sub(rb'("finished_at":)"[^"]*"', rb'\1"%s"' % A_MOMENT, body)
    if b'"crv"' in body:  # a key is made at random
        body = re.sub(rb'("(?:x|kid)":)"[^"]*"', rb'\1"%s"' % A_KEY, body)
    return msgspec.json.format(body, indent=1) + b"\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for published in PUBLISHED:
        (FOLDER / published.file).write_bytes(answer(published))


if __name__ == "__main__":
    main()

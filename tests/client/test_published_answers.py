"""Every published answer is kept as a file, decoded by the client, and still what is answered."""

import copy
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest
from msgspec import UNSET

from gramhour import BatchAnswer, PriceBatchAnswer, Problem
from tests.client.published import FOLDER, PUBLISHED, TYPES, answer
from tests.client.published_offer import A_REPRICING, Published

ROOT = Path(__file__).parent.parent.parent
EACH = pytest.mark.parametrize("published", PUBLISHED, ids=lambda each: each.file)
WITH_MEMBERS = [each for each in PUBLISHED if not each.file.endswith(".txt")]


@EACH
def test_the_kept_answer_is_what_the_service_answers_today(published: Published) -> None:
    kept = (FOLDER / published.file).read_bytes()
    assert kept == answer(published), "run: python -m tests.client.published"


def test_no_other_files_are_kept() -> None:
    assert {path.name for path in FOLDER.iterdir()} == {each.file for each in PUBLISHED}


NOT_KEPT = ("/openapi.json", "/docs", "/docs/{name}", "/metrics")
"""The document itself, and figures that are others each time; no client reads them."""


def test_every_operation_of_the_contract_has_its_answer_kept() -> None:
    document = msgspec.json.decode((ROOT / "openapi" / "openapi.json").read_bytes())
    operations = {
        (method.upper(), path)
        for path, entry in document["paths"].items()
        for method in entry
        if method != "head" and path not in NOT_KEPT
    }
    filled = {"/v1/rates/materials": "/v1/rates/{kind}", "/v1/rates/shop": "/v1/rates/{kind}"}
    filled["/v1/rates/materials/asa-green"] = "/v1/rates/{kind}/{code}"
    filled["/v1/rates/nozzles/n10"] = "/v1/rates/{kind}/{code}"
    filled["/v1/revisions/2"] = "/v1/revisions/{number}"
    filled["/v1/revisions/3/changes"] = "/v1/revisions/{number}/changes"
    filled["/v1/products/herb-planter"] = "/v1/products/{code}"
    filled["/v1/listings/HP-1"] = "/v1/listings/{sku}"
    filled["/v1/listings/HP-1/prices"] = "/v1/listings/{sku}/prices"
    filled[f"/v1/comparisons/{A_REPRICING}"] = "/v1/comparisons/{name}"
    for under in ("", "/lines", "/apply"):
        filled[f"/v1/repricings/{A_REPRICING}{under}"] = f"/v1/repricings/{{name}}{under}"
    kept = {(each.call.method, filled.get(each.call.path, each.call.path)) for each in PUBLISHED}
    assert kept == operations


@EACH
def test_the_kept_answer_is_decoded_into_its_type(published: Published) -> None:
    read = published.read((FOLDER / published.file).read_bytes())
    match published.file:
        case "batch-answer.ndjson":
            assert [type(each) for each in read] == [BatchAnswer, BatchAnswer]
        case "price-batch-answer.ndjson":
            assert [type(each) for each in read] == [PriceBatchAnswer, PriceBatchAnswer]
        case "problem.json" | "problem-of-parameters.json":
            assert type(read) is Problem
        case file:
            assert type(read) is TYPES[file]


@pytest.mark.parametrize("published", WITH_MEMBERS, ids=lambda each: each.file)
def test_an_old_client_reads_the_answers_of_a_newer_service(published: Published) -> None:
    kept = (FOLDER / published.file).read_bytes()
    if published.file.endswith(".ndjson"):
        *lines, done = kept.splitlines()
        newer = b"\n".join([*map(_with_more, lines), done]) + b"\n"
    else:
        newer = _with_more(kept)
    assert newer.count(b"from-the-future") >= 1
    assert _plain(published.read(newer)) == _plain(published.read(kept))


def _plain(read: Any) -> Any:
    """Write what was read as plain values, without what only later versions say of rates."""
    told = msgspec.to_builtins(read)
    if isinstance(told, dict) and isinstance(told.get("rates"), dict):
        told["rates"].pop("from-the-future", None)
    return told


def _with_more(document: bytes) -> bytes:
    return msgspec.json.encode(_grown(msgspec.json.decode(document)))


def _grown(value: Any) -> Any:
    """Give every object one more member of a kind that no type of today has.

    Objects by code grow by a code instead, which is no unknown member, so they are left alone.
    """
    if isinstance(value, list):
        return [_grown(each) for each in value]
    if not isinstance(value, dict):
        return value
    grown = {name: _grown(each) for name, each in value.items()}
    if "variants" in value:  # each with the filaments that it swaps, by code
        grown["variants"] = [{**each, "from-the-future": {}} for each in value["variants"]]
    is_by_code = all(isinstance(each, dict | float | int) for each in value.values())
    return grown if is_by_code else {**grown, "from-the-future": {"deep": [1, "two"]}}


def test_an_answer_says_no_more_than_it_must_and_an_old_one_stays_readable() -> None:
    """What may be left out today (no store, no explanation) may be left out of any answer."""
    quote = msgspec.json.decode((FOLDER / "quote.json").read_bytes())
    less = copy.deepcopy(quote)
    for name in ("rates_revision", "rates_on", "valid_until"):
        del less[name]
    (published,) = [each for each in PUBLISHED if each.file == "quote.json"]
    read = published.read(msgspec.json.encode(less))
    assert (read.rates_revision, read.rates_on, read.valid_until) == (UNSET, UNSET, UNSET)


def test_kept_amounts_days_and_instants_have_their_types() -> None:
    by_file = {each.file: each for each in PUBLISHED}
    quote = by_file["quote.json"].read((FOLDER / "quote.json").read_bytes())
    assert isinstance(quote.at_quantity.cost.total, Decimal)
    assert isinstance(quote.rates_on, date)
    assert isinstance(quote.valid_until, datetime)
    assert quote.valid_until.tzinfo is not None

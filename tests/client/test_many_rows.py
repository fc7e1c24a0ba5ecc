"""Many products and listings at once: rows as a document, as lines and as CSV, each kept once."""

import csv
import io
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from gramhour import Client, ListingRow, Refusal
from tests import demo
from tests.client.demand import now
from tests.client.listed import LISTING, PRODUCT
from tests.client.test_changing import losing

LISTED: dict[str, Any] = {"product": "herb-planter", "channel": "own-shop"}


@pytest.fixture
def own() -> Iterator[Client]:
    """A shop of the test's own, with a product that is listed twice."""
    with Client.local(rates=demo.SHEET, now=now) as client:
        client.put_product("herb-planter", PRODUCT, new=True)
        client.put_listings([{"sku": sku, **LISTING} for sku in ("HP-1", "HP-2")])
        yield client


def row(number: int, **more: Any) -> dict[str, Any]:
    return {"sku": f"R{number:05}", **LISTING, **more}


def skus(client: Client, **only: Any) -> list[str]:
    return [each.sku for each in client.all_listings(**only)]


@pytest.mark.parametrize("number", [3, 1200], ids=["as a document", "as lines"])
def test_five_rows_change_five_and_remove_none_however_many_there_are(
    own: Client, number: int
) -> None:
    added = own.put_listings(row(n) for n in range(number))
    assert (added.added, added.changed, added.unchanged, added.refused) == (number, 0, 0, 0)
    assert [each.row for each in added.rows] == [*range(1, number + 1)]
    again = own.put_listings([row(0), row(1, hold=True), ListingRow(sku="N", **LISTED)])
    assert [(each.name, each.done, each.version) for each in again.rows] == [
        ("R00000", "unchanged", 1),
        ("R00001", "changed", 2),
        ("N", "added", 1),
    ]
    assert len(skus(own)) == number + 3


def test_rows_with_faults_keep_all_others_out_unless_asked_otherwise(own: Client) -> None:
    rows = [row(1), row(2, channel="own-shp"), row(3, product="herb-plantr")]
    with pytest.raises(Refusal) as refused:
        own.put_listings(rows)
    assert (refused.value.type, refused.value.status) == ("invalid-request", 422)
    assert '/items/1/channel: "own-shp"\n' in refused.value.beside_request()
    assert '/items/2/product: "herb-plantr"\n' in refused.value.beside_request()
    assert skus(own) == ["HP-1", "HP-2"]
    outcomes = own.put_listings(rows, all_or_none=False)
    assert [each.done for each in outcomes.rows] == ["added", "refused", "refused"]
    (fault,) = outcomes.rows[1].errors or []
    assert fault.pointer == "/items/1/channel"
    assert skus(own) == ["HP-1", "HP-2", "R00001"]


def test_many_rows_tell_the_line_of_a_fault(own: Client) -> None:
    with pytest.raises(Refusal) as refused:
        own.put_listings(row(n, **({"breaks": [0]} if n == 1100 else {})) for n in range(1200))
    (fault,) = refused.value.faults
    assert fault.line == 1101
    assert skus(own) == ["HP-1", "HP-2"]


def test_listings_go_out_as_csv_and_come_back_unchanged(own: Client) -> None:
    table = own.listings_csv()
    header, first, _ = csv.reader(io.StringIO(table.decode(), newline=""))
    assert dict(zip(header, first, strict=True)) | {"note": ""} == {
        **dict.fromkeys(header, ""),
        "sku": "HP-1",
        "product": "herb-planter",
        "channel": "own-shop",
        "aim.margin_pct": "40",
        "breaks": "[1,10]",
    }
    assert own.put_listings(table).unchanged == 2
    outcome = own.put_listings(b"sku,hold\r\nHP-2,true\r\n")
    assert [(each.name, each.done) for each in outcome.rows] == [("HP-2", "changed")]
    assert own.listing("HP-2").listing.aim == own.listing("HP-1").listing.aim
    lines = b'\xef\xbb\xbf{"sku":"HP-3","product":"herb-planter","channel":"own-shop"}\n{"done":1}'
    assert own.put_listings(lines.removeprefix(b"\xef\xbb\xbf")).added == 1


def test_rows_whose_answer_was_lost_are_put_once(own: Client) -> None:
    client, line = losing(own, "POST")
    outcomes = client.put_listings([row(1)])
    assert (len(line.asked), outcomes.added, outcomes.unchanged) == (2, 1, 0)
    (key,) = {each.headers["idempotency-key"] for each in line.asked}
    assert len(key) >= 22


def test_every_import_has_a_key_of_its_own(own: Client) -> None:
    asked = list[httpx.Request]()

    class Noted(httpx.BaseTransport):
        def handle_request(self, request: httpx.Request) -> httpx.Response:
            asked.append(request)
            return own._http._transport.handle_request(request)

    caller = own._caller
    http = httpx.Client(transport=Noted(), trust_env=False)
    client = Client(url=caller.url, key=caller.key, http=http)
    for _ in range(2):
        client.put_listings([row(1)])
        client.put_products([{"code": "herb-planter", **PRODUCT}])
    assert len({each.headers["idempotency-key"] for each in asked}) == 4

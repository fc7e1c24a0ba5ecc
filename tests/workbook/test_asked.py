"""A workbook is asked for by HTTP, by the client and by the command."""

from pathlib import Path

import msgspec
import pytest

from gramhour import Client
from gramhour.contract.answer import Quote
from gramhour.contract.reading import read_request
from gramhour_service.http.settings import Settings
from gramhour_service.workbook.making import workbook_of
from tests import demo
from tests.http.door import Door, make_shop, opened, problem_of

ODS = "application/vnd.oasis.opendocument.spreadsheet"
PLANTER = msgspec.json.decode(msgspec.json.encode(demo.request("herb-planter")))


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_shop(tmp_path_factory.mktemp("shop") / "gramhour.sqlite")


def asked(door: Door, key: str, query: str = "", sent: object = PLANTER) -> "tuple[int, str]":
    answer = door.ask("POST", f"/v1/quotes{query}", key, json=sent, headers={"Accept": ODS})
    return answer.status_code, answer.headers["content-type"]


def test_whoever_sees_costs_gets_a_quote_as_a_workbook(path: Path) -> None:
    with opened(Settings(store=path)) as door:
        answer = door.ask("POST", "/v1/quotes", "cost", json=PLANTER, headers={"Accept": ODS})
        told = door.ask("POST", "/v1/quotes", "cost", json=PLANTER)
    assert (answer.status_code, answer.headers["content-type"]) == (200, ODS)
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-disposition"] == 'attachment; filename="quote.ods"'
    quote = msgspec.json.decode(told.content, type=Quote)
    request = read_request(demo.request("herb-planter"), demo.sheet())
    assert answer.content == workbook_of(request, demo.sheet(), quote)


def test_a_buyer_gets_no_workbook(path: Path) -> None:
    with opened(Settings(store=path)) as door:
        assert asked(door, "price", sent={"sku": "HP-1", "quantity": 1})[0] == 406
        assert asked(door, "cost", "?view=price")[0] == 406


def test_a_faulty_request_for_a_workbook_is_refused_in_words(path: Path) -> None:
    with opened(Settings(store=path)) as door:
        sent = {**PLANTER, "quantity": 0}
        answer = door.ask("POST", "/v1/quotes", "cost", json=sent, headers={"Accept": ODS})
        far = {**PLANTER, "aim": {"margin_pct": "99.9"}}
        other = door.ask("POST", "/v1/quotes", "cost", json=far, headers={"Accept": ODS})
    assert problem_of(answer)[0] == "invalid-request"
    assert problem_of(other)[0] == "cannot-be-priced"


def test_the_client_gives_the_bytes_of_the_file() -> None:
    with Client.local(rates=demo.SHEET) as client:
        body = client.quote_workbook(demo.request("herb-planter"))
    assert body[:2] == b"PK"

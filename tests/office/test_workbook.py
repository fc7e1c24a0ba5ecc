"""The sample workbook, whose cells ask by themselves: the API's numbers, or an error."""

import runpy
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from gramhour import Client
from gramhour.contract.one_piece import one_piece_request
from gramhour.contract.rates import RateSheet
from tests import demo
from tests.http.door import HERE, secret
from tests.office.conftest import SPREADSHEET, Spoken
from tests.office.running import Office
from tests.server.running import Service, demo_store, serving, take_in

SAMPLE = runpy.run_path(str(SPREADSHEET / "sample.py"))
PARTS, HEADINGS = SAMPLE["PARTS"], SAMPLE["HEADINGS"]
NUMBERS = f"H2:J{len(PARTS) + 1}"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_store(tmp_path_factory.mktemp("cells") / "gramhour.sqlite")


@pytest.fixture(scope="module")
def cells(store: Path) -> Iterator[Service]:
    with serving(store, "--local-cells") as service:
        yield service


@pytest.fixture(params=["english", "german"])
def spoken(request: pytest.FixtureRequest) -> Spoken:
    """An office that writes decimal points, and one that writes commas."""
    found: Spoken = request.getfixturevalue(request.param)
    return found


@contextmanager
def opened(spoken: Spoken, address: str) -> Iterator[Office]:
    path = spoken.folder / "parts.ods"
    SAMPLE["write_sample"](path, address)
    spoken.office.do("open", url=path.as_uri())
    try:
        yield spoken.office
    finally:
        spoken.office.do("close")


def address_of(service: Service) -> str:
    return f"http://{HERE}:{service.port}"


def prices(service: Service, parts: Any = PARTS) -> list[float]:
    """Ask the service itself."""
    with Client(url=address_of(service), key=secret("cost")) as client:
        told = [dict(zip(HEADINGS[1:], map(str, part[1:]), strict=True)) for part in parts]
        quotes = [client.quote({**one_piece_request(each), "breaks": []}) for each in told]
        return [float(quote.at_quantity.unit_price) for quote in quotes]


def test_every_part_shows_the_services_price(spoken: Spoken, cells: Service) -> None:
    with opened(spoken, address_of(cells)) as running:
        rows = running.do("read", where=NUMBERS)
        assert [row[1] for row in rows] == prices(cells)
        assert [row[2] for row in rows] == pytest.approx(
            [price * part[-1] for price, part in zip(prices(cells), PARTS, strict=True)]
        )
        assert running.do("charts", sheet="Parts") == {"Object 1": [[0, 1, 0, 6], [8, 0, 8, 6]]}


def test_a_changed_part_is_asked_for_anew_decimals_and_all(spoken: Spoken, cells: Service) -> None:
    with opened(spoken, address_of(cells)) as running:
        running.do("write", where="C2:G2", rows=[[61.25, "large", 120.5, "own-shop", 7]])
        part = ("", "asa-green", 61.25, "large", 120.5, "own-shop", 7)
        assert running.do("read", where="I2") == [prices(cells, [part])]


def test_what_is_refused_is_told_and_is_no_number(spoken: Spoken, cells: Service) -> None:
    with opened(spoken, address_of(cells)) as running:
        running.do("write", where="B3", rows=[["asa-gren"]])
        running.do("write", where="I9", rows=[["=SUM(I2:I7)"]])
        (answer, price, _), _, (total, *_) = (
            running.do("read", where=where)[0] for where in ("H3:J3", "H4:J4", "I9:J9")
        )
        assert answer.startswith("error: ")
        assert "error" in price
        assert "error" in total


def test_a_service_that_is_down_shows_errors_and_does_not_hang(english: Spoken) -> None:
    with socket.create_server((HERE, 0)) as taken:
        port = taken.getsockname()[1]
    with opened(english, f"http://{HERE}:{port}") as running:
        for row in running.do("read", where=NUMBERS):
            assert all("error" in cell for cell in row)


def test_dearer_rates_show_when_the_cells_ask_again(
    english: Spoken, cells: Service, store: Path
) -> None:
    with opened(english, address_of(cells)) as running:
        before = [row[1] for row in running.do("read", where=NUMBERS)]
        take_in(store, dearer())
        running.do("write", where="Service.B2", rows=[[2]])
        after = [row[1] for row in running.do("read", where=NUMBERS)]
        assert after == prices(cells)
        assert before[0] < after[0]


def dearer() -> RateSheet:
    return replace(demo.sheet(), price_per_kwh=Decimal(9))


def test_an_office_writes_numbers_as_its_language_does(spoken: Spoken, cells: Service) -> None:
    with opened(spoken, address_of(cells)) as running:
        running.do("write", where="L1:L2", rows=[['=2.5&""'], ['=NUMBERVALUE("7.90";".")']])
        shown = running.do("read", where="L1:L2")
        assert shown == [[f"2{spoken.point}5"], [7.9]]


def test_a_cell_counts_once_where_a_limit_is_though_an_office_asks_three_times(
    english: Spoken, shop: Service
) -> None:
    """60 a minute are allowed: OPTIONS, HEAD and GET of 40 cells are 120 requests."""
    address = address_of(shop)
    with opened(english, address) as running:
        asked = f"{address}/v1/unit-price?sku=HP-W&quantity="
        rows = [[f'=NUMBERVALUE(WEBSERVICE("{asked}{n}");".")'] for n in range(1, 41)]
        running.do("write", where="L1:L40", rows=rows)
        assert running.do("read", where="L1:L40") == [[price_of(n)] for n in range(1, 41)]
    path = "/v1/unit-price?sku=HP-W&quantity=50"
    statuses = [shop.ask("GET", path).status for _ in range(21)]
    assert statuses == [200] * 20 + [429]


def price_of(quantity: int) -> float:
    """Say what HP-W is listed at: from 1, 5 and 10 on, see tests/test_docs.py."""
    return 46.9 if quantity < 5 else 30.9 if quantity < 10 else 28.9

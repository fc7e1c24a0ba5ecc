"""A demo shop that is served, and an office with the extension in it."""

import runpy
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from gramhour import Client
from tests.http.door import HERE, secret
from tests.office.running import NEW_SHEET, Office, office
from tests.server.running import Service, command, demo_store, serving

SPREADSHEET = Path(__file__).parents[2] / "client" / "spreadsheet"


class Calc(NamedTuple):
    """An office with the extension, and the shop that it is set to ask."""

    office: Office
    shop: Service

    @property
    def address(self) -> str:
        return f"http://{HERE}:{self.shop.port}"

    def set_to(self, key: str = "cost", address: str | None = None) -> None:
        self.office.do("settings", address=address or self.address, key=secret(key))

    def client(self) -> Client:
        return Client(url=self.address, key=secret("cost"))


def stocked(store: Path) -> Path:
    """List the demo's products with their prices, as its owner does."""
    folder = store.parent
    for kind, file in (("products", "rows.ndjson"), ("listings", "rows.csv")):
        (folder / file).write_text(command(store, f"demo-{kind}").stdout)
        assert command(store, kind, "import", str(folder / file)).exit_code == 0
    assert command(store, "reprice", "--apply", "--note", "how we begin").exit_code == 0
    return store


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    store = demo_store(tmp_path_factory.mktemp("office-shop") / "gramhour.sqlite")
    with serving(stocked(store)) as service:
        yield service


@pytest.fixture(scope="session")
def extension(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target: Path = tmp_path_factory.mktemp("extension") / "gramhour.oxt"
    runpy.run_path(str(SPREADSHEET / "pack.py"))["pack"](target)
    return target


@pytest.fixture(scope="session")
def installed(extension: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as running:
        running.do("install", url=extension.as_uri())
        yield running


@pytest.fixture
def calc(installed: Office, shop: Service) -> Iterator[Calc]:
    """A new sheet in an office that asks the shop with a key that sees costs."""
    found = Calc(installed, shop)
    installed.do("open", url=NEW_SHEET)
    found.set_to("cost")
    yield found
    installed.do("close")

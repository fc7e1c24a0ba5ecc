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
    with serving(stocked(store), "--public-quotes") as service:
        yield service


@pytest.fixture(scope="session")
def extension(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target: Path = tmp_path_factory.mktemp("extension") / "gramhour.oxt"
    runpy.run_path(str(SPREADSHEET / "pack.py"))["pack"](target)
    return target


class Spoken(NamedTuple):
    """An office with the extension, the folder that it trusts, and how it writes decimals."""

    office: Office
    folder: Path
    point: str


@pytest.fixture(scope="session")
def english(extension: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Spoken]:
    folder = tmp_path_factory.mktemp("english")
    with office(folder) as running:
        running.do("install", url=extension.as_uri())
        yield Spoken(running, folder, ".")


@pytest.fixture(scope="session")
def german(
    extension: Path, shop: Service, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Spoken]:
    """An office that writes commas, with the shop's address and a key in its environment."""
    folder = tmp_path_factory.mktemp("german")
    told = {"GRAMHOUR_URL": f"http://{HERE}:{shop.port}", "GRAMHOUR_KEY": secret("cost")}
    with office(folder, locale="de-DE", **told) as running:
        running.do("install", url=extension.as_uri())
        yield Spoken(running, folder, ",")


@pytest.fixture
def calc(english: Spoken, shop: Service) -> Iterator[Calc]:
    """A new sheet in an office that asks the shop with a key that sees costs."""
    installed = english.office
    found = Calc(installed, shop)
    installed.do("open", url=NEW_SHEET)
    found.set_to("cost")
    yield found
    installed.do("close")

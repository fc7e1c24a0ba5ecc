"""The demo's shop with one pot that is priced and sealed, a copy of it for each test."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from tests.http.door import NOW, Door, make_shop, opened
from tests.http.four_pots import POT
from tests.http.repriced import describe, list_prices, listed


@pytest.fixture
def clock() -> list[datetime]:
    return [NOW]


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's shop with a pot listed in its own shop at 3 and at 10, and priced."""
    path = make_shop(tmp_path_factory.mktemp("priced") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        describe(door, "pot", POT)
        listed(door, {"sku": "P", "product": "pot", "channel": "own-shop", "breaks": [3, 10]})
        list_prices(door)
    return path


@pytest.fixture
def path(priced: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    copy = tmp_path / "gramhour.sqlite"
    with closing(sqlite3.connect(priced)) as whole, closing(sqlite3.connect(copy)) as to:
        whole.backup(to)
    return copy


@pytest.fixture
def shop(path: Path, clock: list[datetime]) -> Iterator[Door]:
    with opened(Settings(store=path), lambda: clock[0]) as door:
        yield door

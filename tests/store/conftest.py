"""A store of its own for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from gramhour_service.store.opening import open_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "gramhour.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Database]:
    opened = open_store(path, create=True)
    yield opened
    opened.close()

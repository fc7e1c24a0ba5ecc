"""A store of its own for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from tests.http.door import open_empty


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "gramhour.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Database]:
    opened = open_empty(path)
    yield opened
    opened.close()

"""A store of the demo's shop for each test."""

from pathlib import Path

import pytest

from tests.server.running import demo_store


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return demo_store(tmp_path / "gramhour.sqlite")

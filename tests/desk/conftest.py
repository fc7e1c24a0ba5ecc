"""The demo's shop in-process, with a clock that a test may turn."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from tests.http.door import NOW, Door, make_shop, opened


class Clock:
    """A clock that stands where it was put."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now

    def turn(self, **by: int) -> None:
        """Let time pass."""
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_shop(tmp_path / "gramhour.sqlite")


@pytest.fixture
def door(store: Path, clock: Clock) -> Iterator[Door]:
    with opened(Settings(store=store), clock) as shop:
        yield shop

"""The demo's shop, served in-process."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from tests.http.door import Door, make_shop, opened


@pytest.fixture(scope="session")
def shop_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store of the demo's shop; tests that write make their own."""
    return make_shop(tmp_path_factory.mktemp("shop") / "gramhour.sqlite")


@pytest.fixture(scope="session")
def shop(shop_path: Path) -> Iterator[Door]:
    """The demo's shop as it is started without further words."""
    with opened(Settings(store=shop_path)) as door:
        yield door


@pytest.fixture
def own_path(tmp_path: Path) -> Path:
    """A store of the demo's shop for one test alone."""
    return make_shop(tmp_path / "gramhour.sqlite")


@pytest.fixture
def own_shop(own_path: Path) -> Iterator[Door]:
    """The same, served."""
    with opened(Settings(store=own_path)) as door:
        yield door

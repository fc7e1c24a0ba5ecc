"""The service in this process, at a fixed moment."""

from collections.abc import Iterator

import pytest

from gramhour import Client
from tests import demo
from tests.client.demand import now


@pytest.fixture(scope="session")
def shop() -> Iterator[Client]:
    with Client.local(rates=demo.SHEET, now=now) as client:
        yield client

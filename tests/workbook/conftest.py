"""One office for the tests of a worker."""

from collections.abc import Iterator

import pytest

from tests.workbook.recalculated import Office, office


@pytest.fixture(scope="session")
def calc(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as running:
        yield running

"""One office for the tests of a worker; what was found of many workbooks is said at the end."""

from collections.abc import Iterator

import pytest

from tests.workbook.recalculated import Office, office


@pytest.fixture(scope="session")
def calc(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as running:
        yield running


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    passed = terminalreporter.stats.get("passed", [])
    for name, says in [each for report in passed for each in report.user_properties]:
        if name in ("recalculated", "edited"):
            terminalreporter.write_line(f"workbooks {name}: {says}")

"""The rooms keep their doors: what the import contracts cannot say of standard-library modules."""

import ast
import re
import sys
from pathlib import Path

import pytest

SERVICE = Path(__file__).parent.parent / "service" / "gramhour_service"
MODULES = [
    *sorted((SERVICE / "calculation").rglob("*.py")),
    *sorted((SERVICE / "toolpath").rglob("*.py")),
]

OUTSIDE_WORLD = {
    *("os", "io", "sys", "pathlib", "time", "datetime", "random", "secrets", "socket", "logging"),
    *("sqlite3", "json", "subprocess", "threading", "asyncio", "multiprocessing", "tempfile"),
}


def imports_of(module: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0
            names.add(node.module or "")
    return names


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(SERVICE)))
def test_these_rooms_know_the_standard_library_and_themselves_and_no_outside_world(
    module: Path,
) -> None:
    for name in imports_of(module):
        top = name.split(".")[0]
        own = name.startswith(f"gramhour_service.{module.relative_to(SERVICE).parts[0]}.")
        assert own or top in sys.stdlib_module_names, name
        assert top not in OUTSIDE_WORLD, name


ASKS_OTHERS = re.compile(
    r"^\s*(?:from|import)\s+(?:httpx|requests|aiohttp|urllib\.request|urllib3|http\.client|ftplib"
    r"|smtplib|xmlrpc|gramhour(?:\.client|\.async_client|\s+import\b.*\bClient))\b",
    re.MULTILINE,
)


def test_nothing_but_the_commands_can_ask_another_service() -> None:
    """So no address in a request is ever followed: there is nothing to follow it with."""
    asks = {
        path.relative_to(SERVICE).parts[0]
        for path in SERVICE.rglob("*.py")
        if ASKS_OTHERS.search(path.read_text())
    }
    assert asks == {"commandline"}

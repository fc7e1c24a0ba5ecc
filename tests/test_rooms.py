"""The rooms keep their doors: what the import contracts cannot say of standard-library modules."""

import ast
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

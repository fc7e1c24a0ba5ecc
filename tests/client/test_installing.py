"""The client's wheel stands on its own: with httpx and msgspec alone, in a fresh environment."""

import re
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

from tests import demo
from tests.client.running import KEY, ROOT, a_store, running

LOCK = ROOT / "deploy" / "lock.txt"
NEEDED = {"anyio", "certifi", "h11", "httpcore", "httpx", "idna", "msgspec", "typing-extensions"}


def pip(*arguments: str | Path) -> str:
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--no-input"]
    return subprocess.run(
        [*command, *map(str, arguments)], capture_output=True, text=True, check=True
    ).stdout


def build(project: Path, folder: Path) -> Path:
    pip("wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", folder, project)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(ROOT / "client", tmp_path_factory.mktemp("wheel"))


def test_the_services_wheel_is_built_too_and_needs_the_clients(tmp_path: Path) -> None:
    with zipfile.ZipFile(build(ROOT, tmp_path)) as archive:
        names = archive.namelist()
        (metadata,) = (name for name in names if name.endswith("METADATA"))
        assert "Requires-Dist: gramhour~=" in archive.read(metadata).decode()
    assert "gramhour_service/http/local.py" in names
    assert not any(name.startswith("gramhour/") for name in names)


def test_the_wheel_holds_the_client_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        (metadata,) = (name for name in names if name.endswith("METADATA"))
        told = archive.read(metadata).decode()
    kept = {
        str(path.relative_to(ROOT / "client"))
        for path in (ROOT / "client" / "gramhour").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert {name for name in names if ".dist-info/" not in name} == kept
    assert "gramhour/py.typed" in kept
    needs = re.findall(r"Requires-Dist: ([^;\n]+)$", told, re.MULTILINE)  # without the extras
    required = {re.split(r"[<>=~]", line)[0] for line in needs}
    assert required == {"httpx", "msgspec"}


def locked(names: set[str]) -> str:
    """Take some distributions out of the lock file, with their hashes."""
    entries = re.findall(
        r"^(([a-z0-9._-]+)==(?:.*\\\n)(?:    .*\n)*)", LOCK.read_text(), re.MULTILINE
    )
    return "".join(entry for entry, name in entries if name in names)


def test_it_works_with_httpx_and_msgspec_alone(wheel: Path, tmp_path: Path) -> None:
    venv.create(tmp_path / "fresh", with_pip=False)
    python = tmp_path / "fresh" / "bin" / "python"
    requirements = tmp_path / "requirements.txt"
    requirements.write_text(locked(NEEDED))
    here = ("--python", python, "install", "--quiet", "--no-deps")
    pip(*here, "--require-hashes", "--requirement", requirements)
    pip(*here, wheel)
    assert pip("--python", python, "check") == "No broken requirements found.\n"
    script = tmp_path / "script.py"
    script.write_text(SCRIPT)
    with running(a_store(tmp_path / "store"), tmp_path / "asked") as service:
        arguments = [str(script), service.url, KEY, str(demo.FOLDER / "herb-planter.toml")]
        said = subprocess.run(
            [python, "-I", "-W", "error", *arguments], capture_output=True, text=True, check=True
        )
    installed, price, local = said.stdout.splitlines()
    assert set(installed.split()) == NEEDED | {"gramhour"}
    assert price == "26.90"
    assert "the service is not installed" in local


SCRIPT = """
import sys
from importlib.metadata import distributions
from pathlib import Path
from gramhour import Client, Unreachable
from gramhour.contract.documents import parse_toml

print(*(each.name.lower().replace("_", "-") for each in distributions()))
with Client(url=sys.argv[1], key=sys.argv[2]) as client:
    print(client.quote(parse_toml(Path(sys.argv[3]).read_bytes())).at_quantity.unit_price)
try:
    Client.local()
except Unreachable as error:
    print(error)
"""

"""Why a service does not start, and what every command says of a store that it cannot use."""

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from gramhour_service.store.opening import open_store
from tests.commandline.conftest import Run

NO_PORT = "99999"
"""So that no test can begin to serve."""
pytestmark = pytest.mark.usefixtures("shop")


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


@pytest.mark.parametrize("port", ["99999", "65536", "-1"])
def test_what_is_no_port_is_told_with_those_that_are(run: Run, port: str) -> None:
    assert (
        refused(run, "serve", "--port", port)
        == f"Error: {port} is no port; choose one from 1 to 65535\n"
    )


@pytest.mark.parametrize(
    "company",
    [
        ("--public-quotes",),
        ("--proxy", "127.0.0.1"),
        ("--host", "0.0.0.0"),
        ("--host", "::"),
        ("--host", "192.0.2.1"),
        ("--host", "shop.example"),
        ("--host", ""),
    ],
    ids=" ".join,
)
def test_local_cells_are_refused_where_others_could_pass_for_them(
    run: Run, company: tuple[str, ...]
) -> None:
    told = refused(run, "serve", "--port", NO_PORT, "--local-cells", *company)
    assert told.startswith(f"Error: --local-cells cannot go with {' '.join(company[:1])}")
    assert "Start a second service" in told


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "127.0.0.8", "::1"])
def test_local_cells_may_be_served_to_this_machine(run: Run, host: str) -> None:
    told = refused(run, "serve", "--port", NO_PORT, "--local-cells", "--host", host)
    assert told.startswith(f"Error: {NO_PORT} is no port")


@pytest.mark.parametrize("workers", ["0", "65", "two"])
def test_a_number_of_workers_that_cannot_be_is_not_understood(run: Run, workers: str) -> None:
    result = run("serve", "--port", NO_PORT, "--workers", workers)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--workers" in result.stderr


def of_another_program(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE notes (body TEXT)")


def no_store_at_all(path: Path) -> None:
    path.write_bytes(b"Notes of the week: buy green filament.\n" * 40)


def of_a_later_version(path: Path) -> None:
    with closing(open_store(path, create=True)) as store:
        store.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES (?, ?, ?)",
            ("gramhour", "999 what is not known yet", "2030-01-01"),
        )


def that_cannot_be_opened(path: Path) -> None:
    open_store(path, create=True).close()
    Path(f"{path}-wal").mkdir()  # a folder where its log must be; root may not write there either


TROUBLES: dict[str, tuple[Callable[[Path], None], str]] = {
    "of another program": (of_another_program, "This is no store:"),
    "no store at all": (no_store_at_all, "This is no store:"),
    "of a later version": (of_a_later_version, "The store is newer than this program:"),
    "that cannot be opened": (that_cannot_be_opened, "The store cannot be used:"),
}
COMMANDS = {
    "serve": ("serve", "--port", NO_PORT),
    "quote": ("quote", "stake.toml"),
    "import": ("rates", "import", "rates.toml"),
    "export": ("rates", "export"),
    "show": ("rates", "show"),
    "add": ("keys", "add", "till", "--scope", "cost"),
    "list": ("keys", "list"),
    "revoke": ("keys", "revoke", "till"),
}


@pytest.mark.parametrize("trouble", TROUBLES)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_store_that_cannot_be_used_is_named_with_the_remedy_and_left_as_it_is(
    run: Run, shop: Path, command: str, trouble: str
) -> None:
    path = shop / "another.sqlite"
    make, title = TROUBLES[trouble]
    make(path)
    before = path.read_bytes()
    told = refused(run, *COMMANDS[command], "--store", str(path))
    heading, fault = told.splitlines()
    assert heading == title
    assert fault.startswith(str(path))
    remedies = ("name another file", "install that version", "check its folder, disk and owner")
    assert fault.endswith(remedies)
    assert path.read_bytes() == before
    if command != "serve":
        problem = json.loads(refused(run, *COMMANDS[command], "--store", str(path), "--json"))
        assert problem["title"] == title.removesuffix(":")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_folder_is_no_store(run: Run, shop: Path, command: str) -> None:
    result = run(*COMMANDS[command], "--store", str(shop))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is a directory" in result.stderr


@pytest.mark.parametrize("command", ["import", "add"])
def test_a_place_where_no_store_can_be_made_is_told(run: Run, shop: Path, command: str) -> None:
    path = shop / "stake.toml" / "store.sqlite"
    told = refused(run, *COMMANDS[command], "--store", str(path))
    assert told.startswith("The store cannot be used:\n")
    assert "name another place" in told

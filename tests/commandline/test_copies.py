"""Copies of a store: made while it is written, whole or not at all, put back over nothing."""

import json
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from gramhour_service.store.opening import open_store
from gramhour_service.store.schema import MIGRATIONS, THIRD
from tests.commandline.conftest import Run

KEPT = "SELECT * FROM {} ORDER BY 1, 2"
TABLES = ("revision", "rate_change", "access_key", "price_change", "listing")
PAGE = 4096
ROOT = Path(__file__).parent.parent.parent


@pytest.fixture
def filled(run: Run, shop: Path) -> Path:
    """A store with rates and a key."""
    run("rates", "import", "rates.toml")
    run("keys", "add", "till", "--scope", "cost")
    return shop / "shop" / "store.sqlite"


def read(path: Path) -> dict[str, list[object]]:
    with closing(sqlite3.connect(path)) as plain:
        return {table: plain.execute(KEPT.format(table)).fetchall() for table in TABLES}


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


def test_a_sound_store_is_told_with_what_it_holds(run: Run, filled: Path) -> None:
    before = filled.read_bytes()
    result = run("store", "check")
    assert result.stdout == "The store is sound: revision 1, no listed prices, 1 key.\n"
    assert json.loads(run("store", "check", "--json").stdout) == {
        "sound": True,
        "revision": 1,
        "price_change": 0,
        "keys": 1,
        "is_of_today": True,
        "read_by_others": False,
    }
    assert filled.read_bytes() == before


def test_a_store_that_others_may_read_is_sound_and_the_remedy_is_told(
    run: Run, filled: Path
) -> None:
    filled.chmod(0o644)
    result = run("store", "check")
    assert result.exit_code == 0
    assert result.stderr == (
        f"Others on this machine may read it, and it holds costs: chmod 600 {filled}\n"
    )


def test_an_earlier_versions_store_is_checked_as_it_is(run: Run, shop: Path) -> None:
    path = shop / "older.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        MIGRATIONS.apply(Database(connection, execute_plugins=False), stop_before=THIRD)
    before = path.read_bytes()
    result = run("store", "check", "--store", str(path))
    assert result.exit_code == 0
    assert "of an earlier version" in result.stdout
    assert path.read_bytes() == before


def damage(path: Path) -> None:
    """Write over the pages of tables, as a failing disk does."""
    with closing(sqlite3.connect(path)) as store:
        store.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        roots = store.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'rate_change'")
        (page,) = roots.fetchone()
    with path.open("r+b") as file:
        file.seek((page - 1) * PAGE)
        file.write(b"\xa5" * PAGE)


@pytest.mark.parametrize("arguments", [("check",), ("backup", "copy.sqlite")], ids=" ".join)
def test_a_damaged_store_is_told_and_not_copied(
    run: Run, shop: Path, filled: Path, arguments: tuple[str, ...]
) -> None:
    damage(filled)
    told = refused(run, "store", *arguments)
    assert told.splitlines()[0] == "The store is damaged:"
    assert "rate_change" in told or "malformed" in told or "page" in told
    assert not (shop / "copy.sqlite").exists()


def test_a_service_does_not_start_on_a_damaged_store(run: Run, filled: Path) -> None:
    damage(filled)
    told = refused(run, "serve", "--port", "99999")
    assert told.splitlines()[0] == "The store is damaged:"
    assert told.endswith("restore a copy: gramhour store restore\n")


def test_a_copy_is_the_store_and_only_its_owner_reads_it(
    run: Run, shop: Path, filled: Path
) -> None:
    result = run("store", "backup", "copy.sqlite")
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "Copied to copy.sqlite: revision 1, no listed prices, 1 key.\n"
    copy = shop / "copy.sqlite"
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert read(copy) == read(filled)
    assert sorted(file.name for file in shop.iterdir() if "sqlite" in file.name) == ["copy.sqlite"]


def test_a_copy_that_is_restored_is_used_as_the_store_was(
    run: Run, shop: Path, filled: Path
) -> None:
    run("store", "backup", "copy.sqlite")
    run("keys", "revoke", "till")
    lost = read(filled)
    for file in filled.parent.iterdir():
        file.unlink()
    result = run("store", "restore", "copy.sqlite")
    assert result.exit_code == 0
    assert "Keys revoked after the copy was made are good again" in result.stderr
    restored = read(filled)
    assert restored != lost
    assert restored == read(shop / "copy.sqlite")
    assert run("quote", "stake.toml").exit_code == 0
    assert run("keys", "revoke", "till").exit_code == 0


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("end", ["", "-wal", "-shm", "-journal"])
@pytest.mark.parametrize("command", ["backup", "restore"])
def test_nothing_is_overwritten(run: Run, shop: Path, command: str, end: str) -> None:
    run("store", "backup", "copy.sqlite")
    target = shop / f"target.sqlite{end}"
    target.write_bytes(b"kept")
    arguments = {
        "backup": ("backup", "target.sqlite"),
        "restore": ("restore", "copy.sqlite", "--store", "target.sqlite"),
    }[command]
    told = refused(run, "store", *arguments)
    assert told.splitlines()[0] == "Nothing is overwritten:"
    assert f"target.sqlite{end} is there already and stays" in told
    assert target.read_bytes() == b"kept"


def of_text(path: Path) -> None:
    path.write_text("Notes of the week: buy green filament.\n" * 40)


def of_another_program(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE notes (body TEXT)")


def of_a_later_version(path: Path) -> None:
    with closing(open_store(path, create=True)) as store:
        store.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES (?, ?, ?)",
            ("gramhour", "999 what is not known yet", "2030-01-01"),
        )


def of_nothing(path: Path) -> None:
    path.touch()


def of_nobody(path: Path) -> None:
    pass


@pytest.mark.parametrize(
    "make", [of_text, of_another_program, of_a_later_version, of_nothing, of_nobody]
)
def test_what_is_no_copy_is_not_put_in_place(
    run: Run, shop: Path, make: Callable[[Path], None]
) -> None:
    make(shop / "copy.sqlite")
    told = refused(run, "store", "restore", "copy.sqlite", "--store", "target.sqlite")
    assert "copy.sqlite" in told
    assert [file.name for file in shop.iterdir() if file.name.startswith("target")] == []
    assert [file.name for file in shop.iterdir() if file.name.endswith(".new")] == []


WRITER = """
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store
from tests.store.shops import sheet
with closing(open_store(Path(sys.argv[1]))) as store:
    for number in range(10_000):
        now = datetime.now(UTC)
        print(import_sheet(store, sheet(f"{number}.5"), now=now, made_by="w").revision, flush=True)
"""


def test_a_store_is_copied_while_another_process_writes_and_each_copy_is_of_one_moment(
    run: Run, shop: Path, filled: Path
) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(filled)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as writer:
        try:
            assert writer.stdout is not None
            copied = []
            for number in range(8):
                known = int(writer.stdout.readline())
                result = run("store", "backup", f"{number}.sqlite", "--json")
                assert result.exit_code == 0, result.stderr
                copied.append((known, json.loads(result.stdout)["revision"]))
            assert writer.poll() is None
        finally:
            writer.kill()
    assert all(copy >= known for known, copy in copied)
    assert copied[-1][1] > copied[0][1]
    for number, (_, revision) in enumerate(copied):
        with closing(sqlite3.connect(shop / f"{number}.sqlite")) as copy:
            found = copy.execute("SELECT max(number), sum(changes) FROM revision").fetchone()
            assert found[0] == revision
            (changes,) = copy.execute("SELECT count(*) FROM rate_change").fetchone()
            assert changes == found[1]  # no revision is there by half

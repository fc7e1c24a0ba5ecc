"""What can stand in a store's place, and what is said of it; nothing of others is touched."""

import os
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store, path_of, read_only, writing
from gramhour_service.store.rates import add_revision, newest_revision
from gramhour_service.store.schema import APPLICATION_ID
from gramhour_service.store.trouble import StoreTrouble
from tests import demo
from tests.store.shops import NOON, TODAY, sheet

SHORT = 0.05


def trouble_of(opening: Callable[[], object]) -> StoreTrouble:
    with pytest.raises(StoreTrouble) as told:
        opening()
    assert str(told.value) == told.value.detail
    return told.value


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_missing_store_is_made_only_if_it_is_asked_for(path: Path) -> None:
    trouble = trouble_of(lambda: open_store(path))
    assert trouble.kind == "no-store"
    assert str(path) in trouble.detail
    assert "import a rate sheet" in trouble.detail
    assert list(path.parent.iterdir()) == []
    with closing(open_store(path, create=True)) as store:
        assert newest_revision(store) == 0
    with closing(open_store(path)) as store:
        assert newest_revision(store) == 0


def test_folders_on_the_way_are_made(tmp_path: Path) -> None:
    path = tmp_path / "shop" / "rates" / "gramhour.sqlite"
    with closing(open_store(path, create=True)) as store:
        assert path_of(store).samefile(path)


def test_only_its_owner_reads_a_store_and_what_lies_beside_it(path: Path, store: Database) -> None:
    import_sheet(store, sheet(), now=NOON, made_by="ada")
    files = {file.name.removeprefix(path.name): mode_of(file) for file in path.parent.iterdir()}
    assert files == {"": 0o600, "-wal": 0o600, "-shm": 0o600}


def test_an_empty_file_becomes_a_store(path: Path) -> None:
    path.touch()
    with closing(open_store(path)) as store:
        assert store.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert store.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert store.execute("PRAGMA synchronous").fetchone() == (2,)
        assert store.execute("PRAGMA foreign_keys").fetchone() == (1,)


OTHERS = {
    "a table": "CREATE TABLE notes (body TEXT)",
    "a name of its own": "PRAGMA application_id = 252006674",
    "both": "CREATE TABLE notes (body TEXT); PRAGMA application_id = 252006674",
    "tables named as ours": "CREATE TABLE revision (number INTEGER PRIMARY KEY)",
}


@pytest.mark.parametrize("script", OTHERS.values(), ids=list(OTHERS))
@pytest.mark.parametrize("create", [False, True])
def test_a_file_of_another_program_is_refused_and_left_as_it_is(
    path: Path, script: str, create: bool
) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.executescript(script)
    before = path.read_bytes()
    trouble = trouble_of(lambda: open_store(path, create=create))
    assert trouble.kind == "not-a-store"
    assert str(path) in trouble.detail
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("create", [False, True])
def test_a_file_that_is_no_store_is_refused_and_left_as_it_is(path: Path, create: bool) -> None:
    path.write_bytes(demo.SHEET.read_bytes())
    trouble = trouble_of(lambda: open_store(path, create=create))
    assert trouble.kind == "not-a-store"
    assert path.read_bytes() == demo.SHEET.read_bytes()


def test_a_store_of_a_later_version_is_refused(path: Path) -> None:
    with closing(open_store(path, create=True)) as store:
        store.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES (?, ?, ?)",
            ("gramhour", "999 what is not known yet", "2030-01-01"),
        )
    trouble = trouble_of(lambda: open_store(path))
    assert trouble.kind == "store-newer"
    assert "later version" in trouble.detail


def beside_a_file(folder: Path) -> Path:
    (folder / "file").touch()
    return folder / "file" / "gramhour.sqlite"


def in_a_circle(folder: Path) -> Path:
    (folder / "a").symlink_to(folder / "b")
    (folder / "b").symlink_to(folder / "a")
    return folder / "a"


IMPOSSIBLE: dict[str, Callable[[Path], Path]] = {
    "a folder": lambda folder: folder,
    "beside a file": beside_a_file,
    "links in a circle": in_a_circle,
    "a name too long": lambda folder: folder / ("x" * 300),
}


@pytest.mark.parametrize("place", IMPOSSIBLE.values(), ids=list(IMPOSSIBLE))
def test_a_place_where_no_store_can_be_is_told(
    tmp_path: Path, place: Callable[[Path], Path]
) -> None:
    path = place(tmp_path)
    trouble = trouble_of(lambda: open_store(path, create=True))
    assert trouble.kind == "store-unavailable"
    assert str(path) in trouble.detail


def filled(path: Path) -> int:
    """Make a store of one file with rates in it; say where the page of the rates begins."""
    with closing(open_store(path, create=True)) as store:
        import_sheet(store, demo.sheet(), now=NOON, made_by="ada")
        where = "SELECT rootpage FROM sqlite_schema WHERE name = 'rate_change'"
        root: int = store.execute(where).fetchone()[0]
        size: int = store.execute("PRAGMA page_size").fetchone()[0]
    return (root - 1) * size


def overwrite(path: Path, start: int, length: int) -> None:
    with path.open("r+b") as file:
        file.seek(start)
        file.write(b"\xa5" * length)


DAMAGES: dict[str, Callable[[Path, int], None]] = {
    "its first bytes": lambda path, _: overwrite(path, 0, 64),
    "its tables' names": lambda path, _: overwrite(path, 100, 3996),
    "all but its first page": lambda path, _: overwrite(path, 4096, path.stat().st_size - 4096),
    "the page of its rates": lambda path, rates: overwrite(path, rates, 4096),
    "its end": lambda path, _: os.truncate(path, 4096),
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=list(DAMAGES))
def test_a_damaged_store_is_told_and_nothing_is_priced_from_it(
    path: Path, damage: Callable[[Path, int], None]
) -> None:
    damage(path, filled(path))

    def price_from_it() -> object:
        with closing(open_store(path)) as store:
            return Sheets(store).pinned(NOON)

    trouble = trouble_of(price_from_it)
    assert trouble.kind == "not-a-store"
    assert str(path) in trouble.detail
    assert "restore a copy" in trouble.detail


def test_a_store_that_another_writes_to_is_busy_for_writers_only(path: Path) -> None:
    with closing(open_store(path, create=True, wait=SHORT)) as store:
        import_sheet(store, sheet(30), now=NOON, made_by="ada")
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            busy = trouble_of(lambda: import_sheet(store, sheet(36), now=NOON, made_by="ada"))
            assert busy.kind == "store-busy"
            assert Sheets(store).pinned(NOON).in_force.sheet == sheet(30)
            with closing(open_store(path, wait=SHORT)) as reader:
                assert newest_revision(reader) == 1
            other.execute("ROLLBACK")
        assert import_sheet(store, sheet(36), now=NOON, made_by="ada").revision == 2


def test_a_store_that_another_is_making_is_busy(path: Path) -> None:
    path.touch()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert trouble_of(lambda: open_store(path, wait=SHORT)).kind == "store-busy"
        other.execute("ROLLBACK")
    open_store(path, wait=SHORT).close()


def test_a_full_store_says_so_and_keeps_what_it_had(store: Database) -> None:
    import_sheet(store, sheet(), now=NOON, made_by="ada")
    pages = store.execute("PRAGMA page_count").fetchone()[0]
    store.execute(f"PRAGMA max_page_count = {pages}")
    full = trouble_of(lambda: import_sheet(store, demo.sheet(), now=NOON, made_by="ada"))
    assert full.kind == "store-full"
    assert newest_revision(store) == 1
    assert Sheets(store).pinned(NOON).in_force.sheet == sheet()


def test_a_reader_writes_nothing(path: Path, store: Database) -> None:
    import_sheet(store, sheet(30), now=NOON, made_by="ada")
    with closing(read_only(open_store(path))) as reader:
        told = trouble_of(lambda: import_sheet(reader, sheet(36), now=NOON, made_by="ada"))
        assert told.kind == "store-read-only"
        assert Sheets(reader).pinned(NOON).in_force.sheet == sheet(30)
    assert newest_revision(store) == 1


def test_a_fault_of_ours_while_writing_leaves_nothing_behind(store: Database) -> None:
    def write_and_fail() -> None:
        with writing(store):
            add_revision(
                store,
                {("shop", "currency"): '"EUR"'},
                effective_from=TODAY,
                now=NOON,
                made_by="ada",
                note="half of it",
            )
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_and_fail()
    assert newest_revision(store) == 0
    assert import_sheet(store, sheet(), now=NOON, made_by="ada").revision == 1

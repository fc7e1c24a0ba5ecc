"""Stores as earlier versions made them, from their own code: opened, brought up to date, complete.

Each dump in ``earlier`` was written by the program of a day in this repository's history.
"""

import re
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.copies import copy_store, look_over
from gramhour_service.store.entries import entry_of
from gramhour_service.store.keys import find_key
from gramhour_service.store.opening import open_store
from gramhour_service.store.prices import newest_change
from gramhour_service.store.rates import newest_revision
from gramhour_service.store.schema import KNOWN_MIGRATIONS, MIGRATIONS
from gramhour_service.store.shape import other_than_ours

EARLIER = Path(__file__).parent / "earlier"
WHOLE = ("rates-and-keys", "answered-calls", "offer-and-workload", "comparisons")
WITH_OFFER = ("offer-and-workload", "comparisons")
DRAFTS = ("offer-draft", "offer-late-draft")
"""Of days between two versions: their tables have names of ours and other columns."""
SECRET = "gramhour-test-secret-of-no-shop"
NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def earlier(path: Path, name: str) -> Path:
    with closing(sqlite3.connect(path)) as store:
        store.executescript((EARLIER / f"{name}.sql").read_text())
    return path


def rows_of(path: Path) -> dict[str, list[Any]]:
    with closing(sqlite3.connect(path)) as plain:
        named = plain.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE '%sqlite%'"
        ).fetchall()
        return {
            name: sorted(map(repr, plain.execute(f"SELECT * FROM {name}"))) for (name,) in named
        }


def test_there_is_a_dump_of_every_version_that_has_tables_of_its_own() -> None:
    claimed: set[str] = set()
    for name in WHOLE:
        told = (EARLIER / f"{name}.sql").read_text()
        claimed.update(re.findall(r"'gramhour','([^']*)'", told))
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as new:
        MIGRATIONS.apply(Database(new, execute_plugins=False))
    later = {name for name in KNOWN_MIGRATIONS if int(name.split()[0]) > LAST_DUMPED}
    assert claimed == KNOWN_MIGRATIONS - later - BETWEEN


LAST_DUMPED = 9
BETWEEN = {name for name in KNOWN_MIGRATIONS if int(name.split()[0]) in (5, 6, 7)}
"""Made after 8 and 9, by what was built at the same time."""


@pytest.mark.parametrize("name", WHOLE)
def test_an_earlier_versions_store_is_brought_up_to_date_and_loses_nothing(
    path: Path, name: str
) -> None:
    before = rows_of(earlier(path, name))
    with closing(open_store(path)) as store:
        assert other_than_ours(store) == ()
        assert newest_revision(store) == 2
        sheet = Sheets(store).pinned(NOON).in_force.sheet
        assert f"{sheet.labour_rate_per_hour}" == "30.00"
        later = Sheets(store).pinned(NOON, None, date(2099, 1, 1)).in_force.sheet
        assert f"{later.labour_rate_per_hour}" == "36.00"
        key = find_key(store, SECRET)
        assert key is not None
        assert (key.name, set(key.scopes), key.is_good(NOON)) == ("till", {"cost"}, True)
        if name in WITH_OFFER:
            assert entry_of(store, "listing", "ST-1") is not None
            assert newest_change(store) == 2
    after = rows_of(path)
    assert {table: after[table] for table in before if table != "access_key"} == {
        table: rows for table, rows in before.items() if table != "access_key"
    }
    assert look_over(path).faults == ()


@pytest.mark.parametrize("name", WHOLE)
def test_a_copy_of_an_earlier_versions_store_stays_what_it_is_until_it_is_used(
    path: Path, tmp_path: Path, name: str
) -> None:
    before = rows_of(earlier(path, name))
    copy = tmp_path / "copy.sqlite"
    copy_store(path, copy)
    assert rows_of(copy) == before
    open_store(copy).close()
    assert look_over(copy).is_of_today


@pytest.mark.parametrize("name", DRAFTS)
def test_a_store_of_an_unfinished_version_is_told_by_what_is_not_ours(
    path: Path, name: str
) -> None:
    open_store(earlier(path, name)).close()
    faults = look_over(path).faults
    assert any(fault.startswith("the table repricing is another one") for fault in faults)


def test_a_guard_that_another_program_took_away_is_told(path: Path) -> None:
    open_store(path, create=True).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute("DROP TRIGGER revision_is_never_deleted")
    (fault,) = look_over(path).faults
    assert fault.startswith("the trigger revision_is_never_deleted is missing")

"""Opens a store: makes it, brings an older one up to date, refuses what is none of ours."""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlite_utils import Database

from gramhour_service.store import (
    comparisons,
    key_use,
    line_table,
    move_ranges,
    seals,
    signing_keys,
    standing_prices,
    workload,
)
from gramhour_service.store.schema import APPLICATION_ID, KNOWN_MIGRATIONS, MIGRATIONS
from gramhour_service.store.trouble import StoreTrouble, told_as_trouble

WAIT_SECONDS = 5.0
"""How long a writer waits for another one before it says that the store is busy."""
BETWEEN_TRIES = 0.005

TABLES_OF_THEIR_OWN = (
    comparisons.table_of_comparisons,
    workload.table_of_workload,
    signing_keys.table_of_signing_keys,
    seals.tables_of_seals,
    key_use.table_of_key_use,
    standing_prices.table_of_standing_prices,
    line_table.lines_in_rows,
    move_ranges.table_of_move_ranges,
)
"""Migrations that stand beside what reads and writes their tables."""


def open_store(path: Path, *, create: bool = False, wait: float = WAIT_SECONDS) -> Database:
    """Open a store to read and write, for use in one thread; ``create`` makes a missing one.

    Raises ``StoreTrouble``.
    """
    if not is_there(path):
        if not create:
            raise StoreTrouble(
                "no-store", f"there is no store at {path}; import a rate sheet to make one"
            )
        _make_file(path)
    with told_as_trouble(path):
        store = _connect(path, wait)
        try:
            with reading(store):
                refuse_strangers(store, path)
            _bring_up_to_date(store)
            _write_ahead(store, wait)
        except BaseException:
            store.close()
            raise
    return store


def open_to_read(path: Path) -> Database:
    """Open a store to read. One on a disk that may not be written is read as it stands.

    Raises ``StoreTrouble``.
    """
    try:
        return read_only(open_store(path))
    except StoreTrouble as trouble:
        if trouble.kind not in ("store-read-only", "store-unavailable") or _has_log(path):
            raise
        return _open_as_it_stands(path)


def keep_in_memory(store: Database, mebibytes: int) -> None:
    """Keep so much of a store at hand, for who writes much to many places of it."""
    store.execute(f"PRAGMA cache_size = -{mebibytes * 1024}")


def writings_seen(store: Database) -> int:
    """Say a number that changes whenever somebody else has written to a store that is read."""
    number: int = store.conn.execute("PRAGMA data_version").fetchone()[0]
    return number


def _has_log(path: Path) -> bool:
    """Say whether something of a store stands in its log only; an empty one holds nothing."""
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def _open_as_it_stands(path: Path) -> Database:
    """Open a store that nobody can write: without the files that writers and readers share."""
    with told_as_trouble(path):
        connection = sqlite3.connect(
            f"file:{quote(str(path))}?mode=ro&immutable=1",
            uri=True,
            isolation_level=None,
            check_same_thread=False,
        )
        store = Database(connection, execute_plugins=False)
        refuse_strangers(store, path)
        if MIGRATIONS.pending(store):
            raise StoreTrouble(
                "store-read-only",
                f"{path} is of an earlier version and may not be changed to ours",
            )
        return store


def is_there(path: Path) -> bool:
    """Say whether there is a file. Raises ``StoreTrouble`` where that cannot be known."""
    try:
        return path.exists()
    except OSError as error:
        raise _no_place(path, error) from None


def read_only(store: Database) -> Database:
    """Refuse writing through this connection from now on."""
    store.execute("PRAGMA query_only = ON")
    return store


@contextmanager
def writing(store: Database, *, keep: bool = True) -> Iterator[None]:
    """Write all or nothing, with no other writer meanwhile; without ``keep`` it is only tried.

    Raises ``StoreTrouble`` if the store is busy, full or not to be written.
    """
    kind = _part_of_a_writing if store.conn.in_transaction else _whole_writing
    with kind(store, keep=keep):
        yield


@contextmanager
def _whole_writing(store: Database, *, keep: bool) -> Iterator[None]:
    with told_as_trouble(path_of(store)):
        store.execute("BEGIN IMMEDIATE")
        try:
            yield
            store.execute("COMMIT" if keep else "ROLLBACK")
        except BaseException:
            if store.conn.in_transaction:
                store.execute("ROLLBACK")
            raise


@contextmanager
def _part_of_a_writing(store: Database, *, keep: bool) -> Iterator[None]:
    """Write all or nothing of a part of what is being written."""
    store.execute("SAVEPOINT part")
    try:
        yield
        if not keep:
            store.execute("ROLLBACK TO part")
    except BaseException:
        if store.conn.in_transaction:
            store.execute("ROLLBACK TO part")
            store.execute("RELEASE part")
        raise
    store.execute("RELEASE part")


@contextmanager
def reading(store: Database) -> Iterator[None]:
    """Read several things as they are at one moment, whatever others write meanwhile."""
    store.execute("BEGIN")
    try:
        yield
    finally:
        if store.conn.in_transaction:
            store.execute("ROLLBACK")


def _write_ahead(store: Database, wait: float) -> None:
    """Let readers read while one writes. SQLite does not wait for others here, so we do."""
    deadline = time.monotonic() + wait
    while True:
        try:
            store.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(BETWEEN_TRIES)


def path_of(store: Database) -> Path:
    """Name the file of a store."""
    return Path(store.execute("PRAGMA database_list").fetchone()[2])


def _make_file(path: Path) -> None:
    """Make an empty file that only its owner reads: it will hold costs and keys."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise _no_place(path, error) from None


def _no_place(path: Path, error: OSError) -> StoreTrouble:
    reason = (error.strerror or str(error)).lower()
    return StoreTrouble(
        "store-unavailable", f"no store can be at {path} ({reason}); name another place"
    )


def _connect(path: Path, wait: float) -> Database:
    # No isolation level: transactions begin and end where this room says so.
    connection = sqlite3.connect(
        path, timeout=wait, isolation_level=None, check_same_thread=False, cached_statements=256
    )
    store = Database(connection, execute_plugins=False)
    store.execute("PRAGMA synchronous = FULL")
    store.execute("PRAGMA foreign_keys = ON")
    return store


def refuse_strangers(store: Database, path: Path) -> None:
    """Refuse a file of another program, or of a later version of ours."""
    found = store.execute("PRAGMA application_id").fetchone()[0]
    if found != APPLICATION_ID and (found or store.table_names()):
        raise StoreTrouble("not-a-store", f"{path} belongs to another program; name another file")
    applied = {migration.name for migration in MIGRATIONS.applied(store)}
    if applied - KNOWN_MIGRATIONS:
        raise StoreTrouble(
            "store-newer",
            f"{path} was written by a later version of this program; install that version",
        )


def _bring_up_to_date(store: Database) -> None:
    if MIGRATIONS.pending(store):
        with writing(store):
            MIGRATIONS.apply(store)

"""Looks a store over, copies it while it is written, and puts a copy in a store's place.

A copy is one file, whole or not there at all. Nothing here overwrites anything.
"""

import os
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from sqlite_utils import Database

from gramhour_service.store.opening import is_there, open_store, open_to_read, refuse_strangers
from gramhour_service.store.prices import newest_change
from gramhour_service.store.rates import newest_revision
from gramhour_service.store.schema import FIRST, MIGRATIONS, THIRD
from gramhour_service.store.shape import other_than_ours
from gramhour_service.store.trouble import StoreTrouble, told_as_trouble

PAGES_AT_ONCE = -1
"""All: what is copied is the store as it is at one moment, and writers go on meanwhile."""
INSTRUCTIONS_BETWEEN = 100_000
MOST_NAMED = 20
BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a store. Of another store it would damage the one put there."""


class Looked(NamedTuple):
    """What a store holds, and what is wrong with it; ``faults`` is empty of one that is sound."""

    revision: int
    price_change: int
    keys: int
    is_of_today: bool
    read_by_others: bool
    faults: tuple[str, ...]


def look_over(path: Path) -> Looked:
    """Read a whole store as it stands, changing nothing. Raises ``StoreTrouble``."""
    if not is_there(path):
        raise StoreTrouble("no-store", f"there is no store at {path}")
    with told_as_trouble(path), _as_it_is(path) as store:
        pending = {migration.name for migration in MIGRATIONS.pending(store)}
        is_made = FIRST not in pending
        return Looked(
            revision=newest_revision(store) if is_made else 0,
            price_change=0 if THIRD in pending else newest_change(store),
            keys=store.table("access_key").count if is_made else 0,
            is_of_today=not pending,
            read_by_others=is_read_by_others(path),
            faults=tuple(_faults(store)) or (() if pending else other_than_ours(store)),
        )


def is_written_by_us(path: Path) -> bool:
    """Say whether a store can be written, and bring it up to date if so. Raises ``StoreTrouble``.

    One that can only be read is read as it stands.
    """
    try:
        open_store(path).close()
    except StoreTrouble as trouble:
        if trouble.kind not in ("store-read-only", "store-unavailable"):
            raise
        open_to_read(path).close()
        return False
    return True


def tables_of_others(path: Path) -> tuple[str, ...]:
    """Tell what of a store is not as this version makes it. Raises ``StoreTrouble``."""
    with told_as_trouble(path), _as_it_is(path) as store:
        return () if MIGRATIONS.pending(store) else other_than_ours(store)


def is_damaged(path: Path, seconds: float) -> bool:
    """Say whether a store is damaged, as far as that many seconds show. Raises ``StoreTrouble``."""
    deadline = time.monotonic() + seconds
    with told_as_trouble(path), _as_it_is(path) as store:
        store.conn.set_progress_handler(lambda: time.monotonic() > deadline, INSTRUCTIONS_BETWEEN)
        try:
            found = store.execute("PRAGMA quick_check(1)").fetchone()
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT:
                return False
            raise
        return bool(found != ("ok",))


def is_read_by_others(path: Path) -> bool:
    """Say whether other users of this machine may read a store, which holds costs."""
    return bool(path.stat().st_mode & (stat.S_IRGRP | stat.S_IROTH))


def copy_store(path: Path, copy: Path) -> Looked:
    """Copy a store as it is now, whoever reads and writes it meanwhile; say what the copy holds.

    Raises ``StoreTrouble``; where the copy is to be, nothing may be yet.
    """
    if not is_there(path):
        raise StoreTrouble("no-store", f"there is nothing to copy at {path}")
    _refuse_what_is_there(copy)
    with _placed_whole(copy) as new, told_as_trouble(path), _as_it_is(path) as store:
        with closing(sqlite3.connect(new)) as target:
            store.conn.backup(target, pages=PAGES_AT_ONCE)
            target.execute("PRAGMA journal_mode = DELETE")  # one file, whoever opens it
        looked = look_over(new)
        if not looked.keys and not looked.revision:
            raise StoreTrouble("not-a-store", f"{path} holds no rates and no keys: nothing to copy")
        if looked.faults:
            raise StoreTrouble(
                "store-damaged",
                f"{looked.faults[0]}; see gramhour store check, copy an earlier one",
            )
    return looked


def _refuse_what_is_there(place: Path) -> None:
    for name in (place, *(place.with_name(place.name + end) for end in BESIDE)):
        if is_there(name) or name.is_symlink():
            raise StoreTrouble(
                "is-there", f"{name} is there already and stays; move it away, or name another"
            )


@contextmanager
def _placed_whole(place: Path) -> Iterator[Path]:
    """Give an empty file to fill, which only its owner reads; then it stands in its place."""
    new = place.with_name(f".{place.name}.{os.getpid()}.new")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(new, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        try:
            yield new
            _to_disk(new)
            os.link(new, place)  # unlike a renaming, it never replaces
        finally:
            new.unlink()
            for end in BESIDE:
                new.with_name(new.name + end).unlink(missing_ok=True)
        _to_disk(place.parent)
    except FileExistsError:
        raise StoreTrouble("is-there", f"{place} has been made meanwhile and stays") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StoreTrouble("store-unavailable", f"{place} cannot be made ({reason})") from None


def _to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _as_it_is(path: Path) -> Iterator[Database]:
    """Open a store of ours only to read, of whatever version up to today's."""
    with closing(_opened(path)) as connection:
        store = Database(connection, execute_plugins=False)
        refuse_strangers(store, path)
        yield store


def _opened(path: Path) -> sqlite3.Connection:
    """Open a file to read; where nothing may be written beside it, as one that nobody writes."""
    address = f"file:{quote(str(path.absolute()))}?mode=ro"
    connection = sqlite3.connect(address, uri=True, isolation_level=None)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema")
    except sqlite3.OperationalError:
        connection.close()
        if path.with_name(path.name + "-wal").exists():
            raise
        connection = sqlite3.connect(f"{address}&immutable=1", uri=True, isolation_level=None)
    return connection


def _faults(store: Database) -> Iterator[str]:
    """Tell each fault of the file, and each row that refers to something that is not there."""
    try:
        for (told,) in store.execute(f"PRAGMA integrity_check({MOST_NAMED})"):
            if told != "ok":
                yield from (line for line in told.splitlines() if line)
    except sqlite3.DatabaseError as error:  # so damaged that it cannot be read on
        yield str(error)
        return
    with suppress(sqlite3.OperationalError):
        for table, row, parent, _ in store.execute("PRAGMA foreign_key_check"):
            yield f"{table}, row {row}: what it refers to in {parent} is not there"

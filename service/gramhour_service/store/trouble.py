"""What can be wrong with a store, in words. One function tells what SQLite's errors mean."""

import sqlite3
from pathlib import Path
from typing import Literal

Kind = Literal[
    "no-store",
    "not-a-store",
    "store-damaged",
    "is-there",
    "store-newer",
    "store-busy",
    "store-full",
    "store-read-only",
    "store-unavailable",
]


class StoreTrouble(Exception):
    """The store cannot be used, or not now; ``kind`` never changes its meaning."""

    def __init__(self, kind: Kind, detail: str) -> None:
        """Keep the kind of trouble, and what to do about it."""
        self.kind: Kind = kind
        self.detail = detail
        super().__init__(detail)


class told_as_trouble:  # noqa: N801 (it reads as what it does, and every request passes it thrice)
    """Tell what SQLite reports as trouble with the store; what is refused by a rule passes."""

    __slots__ = ("_path",)

    def __init__(self, path: Path) -> None:
        """Tell of the store at ``path``."""
        self._path = path

    def __enter__(self) -> None:
        """Begin."""

    def __exit__(self, kind: object, error: BaseException | None, where: object) -> None:
        """Raise ``StoreTrouble`` in place of SQLite's own."""
        of_rule = isinstance(error, sqlite3.IntegrityError)
        if isinstance(error, sqlite3.DatabaseError) and not of_rule:
            raise _trouble(error, self._path) from error


def _trouble(error: sqlite3.DatabaseError, path: Path) -> StoreTrouble:
    # Errors that Python itself raises have no code: a closed connection, a wrong statement.
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        raise error
    match code & 0xFF:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return StoreTrouble("store-busy", "another process is writing; try again shortly")
        case sqlite3.SQLITE_FULL:
            return StoreTrouble("store-full", "no space is left for the store; make room")
        case sqlite3.SQLITE_NOTADB | sqlite3.SQLITE_CORRUPT:
            return StoreTrouble(
                "not-a-store", f"{path} is damaged or no store; restore a copy or name another file"
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_PERM:
            return StoreTrouble(
                "store-read-only", f"{path} may not be written; check its owner, folder and disk"
            )
        case sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_IOERR | sqlite3.SQLITE_AUTH:
            return StoreTrouble(
                "store-unavailable", f"{path} cannot be opened; check its folder, disk and owner"
            )
    raise error

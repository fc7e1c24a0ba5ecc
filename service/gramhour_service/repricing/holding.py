"""A run holds a file locked for as long as it lives, which tells it from one that broke off."""

import errno
import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gramhour_service.store.trouble import Kind, StoreTrouble


def lock_of(store: Path, name: str) -> Path:
    """Name the file that a run holds locked."""
    return store.with_name(f"{store.name}-repricing-{name}")


@contextmanager
def held(store: Path, name: str) -> Iterator[int]:
    """Hold the lock of a run; a process that inherits the descriptor holds it too.

    Raises ``StoreTrouble`` if there is no place for it.
    """
    try:
        descriptor = os.open(lock_of(store, name), os.O_CREAT | os.O_RDWR, 0o600)
    except OSError as error:
        kind: Kind = "store-full" if error.errno == errno.ENOSPC else "store-read-only"
        raise StoreTrouble(kind, f"no file can be made beside {store}: {error.strerror}") from None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield descriptor
    finally:
        os.close(descriptor)


@contextmanager
def removed_when_refused(store: Path, name: str) -> Iterator[None]:
    """Leave no file behind for a run that is not begun."""
    try:
        yield
    except BaseException:
        lock_of(store, name).unlink()
        raise


def goes_on(store: Path, name: str) -> bool:
    """Say whether some process runs a repricing."""
    try:
        descriptor = os.open(lock_of(store, name), os.O_RDONLY)
    except FileNotFoundError:
        return False
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(descriptor)
    return False

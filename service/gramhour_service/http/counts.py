"""How often each caller asked lately, counted by all workers of a host in one mapped file.

A table of fixed size: whoever is counted has a place among a few, found by a hash. When all of
those are taken, the one that was idle longest gives way, so that a flood of callers can make
others be forgotten, but takes no memory and slows nobody.
"""

import fcntl
import hashlib
import mmap
import os
import secrets
import struct
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from limits.storage import Storage
from limits.storage.base import SlidingWindowCounterSupport

PLACE = struct.Struct("<QQII")
"""Of a caller: the hash, the window counted in, the count in it and in the window before."""
PLACES = 65_536
NEAR = 8
"""So many places a caller can have."""
SALT = 16


class Counted(NamedTuple):
    """A caller's place in the table, and what stands in it as of now."""

    place: int
    name: int
    window: int
    current: int
    before: int


class SharedCounts(Storage, SlidingWindowCounterSupport):
    """Counts by windows of time, in a file that workers share, or in this process alone."""

    STORAGE_SCHEME = None

    def __init__(
        self, path: Path | None = None, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        """Map a file that is made if there is none; ``seconds`` is the same in all processes."""
        super().__init__()
        self._seconds = seconds
        self._file = None if path is None else os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
        size = SALT + PLACES * PLACE.size
        with self._alone():
            if self._file is not None and os.fstat(self._file).st_size < size:
                os.ftruncate(self._file, size)
            self._table = mmap.mmap(-1 if self._file is None else self._file, size)
            if self._table[:SALT] == bytes(SALT):  # nobody can choose names that share a place
                self._table[:SALT] = secrets.token_bytes(SALT)
        self._salt = self._table[:SALT]

    @property
    def base_exceptions(self) -> type[Exception]:
        """Name what may go wrong here."""
        return OSError

    def acquire_sliding_window_entry(
        self, key: str, limit: int, expiry: int, amount: int = 1
    ) -> bool:
        """Count an amount, if it keeps to the limit."""
        with self._alone():
            found, left = self._found(key, expiry)
            if found.before * left / expiry + found.current + amount > limit:
                return False
            counted = (found.name, found.window, found.current + amount, found.before)
            PLACE.pack_into(self._table, found.place, *counted)
            return True

    def get_sliding_window(self, key: str, expiry: int) -> tuple[int, float, int, float]:
        """Say the counts of the window before and of this one, and how long each counts."""
        with self._alone():
            found, left = self._found(key, expiry)
        return found.before, left, found.current, left + expiry

    def clear_sliding_window(self, key: str, expiry: int) -> None:
        """Forget a caller."""
        with self._alone():
            found, _ = self._found(key, expiry)
            PLACE.pack_into(self._table, found.place, 0, 0, 0, 0)

    def check(self) -> bool:
        """Say that it works: it is only memory."""
        return True

    def reset(self) -> int | None:
        """Forget all callers."""
        with self._alone():
            self._table[SALT:] = bytes(PLACES * PLACE.size)
        return None

    def incr(self, key: str, expiry: float, amount: int = 1) -> int:
        """Not offered: only sliding windows are counted."""
        raise NotImplementedError

    def get(self, key: str) -> int:
        """Not offered: only sliding windows are counted."""
        raise NotImplementedError

    def get_expiry(self, key: str) -> float:
        """Not offered: only sliding windows are counted."""
        raise NotImplementedError

    def clear(self, key: str) -> None:
        """Not offered: only sliding windows are counted."""
        raise NotImplementedError

    def close(self) -> None:
        """Give the file back; what is this process's alone goes with it, and counts until then."""
        if self._file is not None:
            self._table.close()
            os.close(self._file)
            self._file = None

    def _found(self, key: str, expiry: int) -> tuple[Counted, float]:
        """Find a caller's place as of now, and how long the window before still counts."""
        window, passed = divmod(self._seconds(), expiry)
        now = int(window) + 1  # a window of 0 is an empty place
        name = int.from_bytes(
            hashlib.blake2b(key.encode(), digest_size=8, key=self._salt).digest(), "little"
        )
        others: list[tuple[int, int]] = []
        for n in range(NEAR):
            place = SALT + ((name + n) % PLACES) * PLACE.size
            whose, since, current, before = PLACE.unpack_from(self._table, place)
            if whose == name:
                break
            others.append((since, place))
        else:  # it is new here, and takes the place that was used longest ago
            _, place = min(others, key=lambda each: each[0])
            since = current = before = 0
        if since == now - 1:
            current, before = 0, current
        elif since != now:
            current, before = 0, 0
        return Counted(place, name, now, current, before), expiry - passed

    @contextmanager
    def _alone(self) -> Iterator[None]:
        if self._file is None:
            yield
            return
        fcntl.flock(self._file, fcntl.LOCK_EX)
        try:
            yield
        finally:
            fcntl.flock(self._file, fcntl.LOCK_UN)

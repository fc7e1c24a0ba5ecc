"""What the routes work with: the store's sheets and keys, the settings, the clock."""

import math
from collections.abc import Callable
from datetime import date, datetime

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.asking import Asker
from gramhour_service.http.settings import Settings
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned, Sheets
from gramhour_service.store.keys import AccessKey, find_key
from gramhour_service.store.opening import open_store, read_only
from gramhour_service.store.trouble import told_as_trouble


class Shop:
    """A worker's view of the shop: nothing in it but connections and caches.

    A store that is made after the service was started is found by the next request.
    """

    def __init__(self, settings: Settings, now: Callable[[], datetime]) -> None:
        """Open what ``settings`` name; ``now`` is the clock."""
        self.settings, self.now = settings, now
        self._store: Database | None = None
        self._sheets: Sheets | None = None
        self._rate = RateLimitItemPerMinute(settings.quotes_a_minute)
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self.store()

    def store(self) -> Database | None:
        """Open the store if there is one. Raises ``StoreTrouble``."""
        path = self.settings.store
        if self._store is None and path is not None and path.exists():
            self._store = read_only(open_store(path))
            self._sheets = Sheets(self._store)
        return self._store

    def close(self) -> None:
        """Close the store."""
        if self._store is not None:
            self._store.close()
            self._store = self._sheets = None

    def find_key(self, secret: str) -> AccessKey | None:
        """Find the key that a caller shows."""
        store, path = self.store(), self.settings.store
        if store is None or path is None:
            return None
        with told_as_trouble(path):
            return find_key(store, secret)

    def pinned(self, revision: int | None, on: date | None) -> Pinned | None:
        """Find the sheet of a day as known at a revision; none if there is no store.

        Raises ``NoSuchRevision``, ``NothingInForce`` and ``StoreTrouble``.
        """
        self.store()
        if self._sheets is None:
            return None
        return self._sheets.pinned(self.now(), revision, on)

    def count(self, asker: Asker, quotes: int = 1) -> None:
        """Count what callers without a key ask. Raises ``Refused`` when it is too much."""
        if asker.door == "public" and not self._limiter.hit(self._rate, asker.name, cost=quotes):
            again_at = self._limiter.get_window_stats(self._rate, asker.name).reset_time
            raise TooMany(max(1, math.ceil(again_at - self.now().timestamp())))


class TooMany(Refused):
    """A caller without a key asks too often."""

    def __init__(self, seconds: int) -> None:
        """Say in how many seconds to ask again."""
        super().__init__(
            "too-many-requests", (Fault(UNSET, "ask less often, or with a key of your own"),)
        )
        self.headers = {"Retry-After": str(seconds)}


def no_such_sheet(error: NoSuchRevision | NothingInForce) -> str:
    """Say why there is no sheet to a revision and a day."""
    if isinstance(error, NoSuchRevision):
        return f"there is no such revision yet; the newest is {error.newest}"
    return "no rates are in force on that day as known then; choose another, or import a sheet"

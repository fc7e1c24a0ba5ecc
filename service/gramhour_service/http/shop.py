"""What the routes work with: the store's sheets and keys, the settings, the clock."""

import asyncio
import math
import time
from collections.abc import Callable, Coroutine
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

from limits import RateLimitItemPerMinute
from limits.strategies import SlidingWindowCounterRateLimiter
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.asking import Asker
from gramhour_service.http.counts import SharedCounts
from gramhour_service.http.settings import Settings
from gramhour_service.repricing.starting import start
from gramhour_service.sheets.in_force import Pinned, Sheets, day_in_shop
from gramhour_service.store.key_use import note_use
from gramhour_service.store.keys import AccessKey, find_key
from gramhour_service.store.opening import is_there, open_store, open_to_read, writing
from gramhour_service.store.trouble import StoreTrouble, told_as_trouble

T = TypeVar("T")
SECONDS_UNTIL_NOTED = 1.0
"""After a key is used, until that is written down: a request never waits for it."""
SECONDS_BETWEEN_NOTES = 60.0
"""How long a worker writes nothing about a key that is used again."""


class Shop:
    """A worker's view of the shop: nothing in it but connections and caches.

    A store that is made after the service was started is found by the next request.
    """

    def __init__(self, settings: Settings, now: Callable[[], datetime]) -> None:
        """Open what ``settings`` name; ``now`` is the clock."""
        self.settings, self.now, self.is_closed = settings, now, False
        self.start_run: Callable[[Path, str, int], None] = start
        """How the run of a repricing is started, in a process of its own."""
        self._going_on: set[asyncio.Task[None]] = set()
        self._store: Database | None = None
        self._sheets: Sheets | None = None
        self._rates = {
            "public": RateLimitItemPerMinute(settings.quotes_a_minute),
            "key": RateLimitItemPerMinute(settings.prices_a_minute),
            "wrong key": RateLimitItemPerMinute(settings.wrong_keys_a_minute),
        }
        self._counts = SharedCounts(settings.counts)
        self._limiter = SlidingWindowCounterRateLimiter(self._counts)
        self.kept_offers: tuple[Any, Any] | None = None
        """What pages list as for sale, and as of when."""
        self._used: dict[str, datetime] = {}
        self._noted: dict[str, float] = {}
        self._noting: asyncio.TimerHandle | None = None
        self.store()

    def store(self) -> Database | None:
        """Open the store if there is one. Raises ``StoreTrouble``."""
        path = self.settings.store
        if self._store is None and path is not None and is_there(path):
            self._store = open_to_read(path)
            self._sheets = Sheets(self._store)
        return self._store

    def has_store(self) -> bool:
        """Say whether there is a store."""
        return self.store() is not None

    def public_channels(self) -> frozenset[str]:
        """List the channels that are open to callers without a key."""
        found = self.pinned_today()
        channels = UNSET if found is None else found.in_force.sheet.channels
        if channels is UNSET:
            return frozenset()
        return frozenset(code for code, channel in channels.items() if channel.public is True)

    def close(self) -> None:
        """Close the store; what goes on beside the answers sees that and ends."""
        self.is_closed = True
        if self._noting is not None:
            self._noting.cancel()
        if self._used:
            self._keep_use(self._used)
        if self._store is not None:
            self._store.close()
            self._store = self._sheets = None
        self._counts.close()

    def find_key(self, secret: str) -> AccessKey | None:
        """Find the key that a caller shows."""
        return self.read(lambda store: find_key(store, secret))

    def note_use(self, name: str, now: datetime) -> None:
        """Note that a key was used; it is written down soon, beside the requests."""
        self._used[name] = now
        noted = self._noted.get(name)
        is_due = noted is None or time.monotonic() > noted + SECONDS_BETWEEN_NOTES
        if is_due and self._noting is None:
            loop = asyncio.get_running_loop()
            self._noting = loop.call_later(SECONDS_UNTIL_NOTED, self._write_use_down, loop)

    def _write_use_down(self, loop: asyncio.AbstractEventLoop) -> None:
        used, self._used, self._noting = self._used, {}, None
        self._noted |= dict.fromkeys(used, time.monotonic())
        loop.run_in_executor(None, self._keep_use, used)

    def _keep_use(self, used: dict[str, datetime]) -> None:
        """Write down when keys were used; a store that cannot be written does without."""
        with suppress(StoreTrouble):
            self._write(lambda store: _note(store, used))

    def pinned(self, revision: int | None, on: date | None) -> Pinned | None:
        """Find the sheet of a day as known at a revision; none if there is no store.

        Raises ``NoSuchRevision``, ``NothingInForce`` and ``StoreTrouble``.
        """
        self.store()
        if self._sheets is None:
            return None
        return self._sheets.pinned(self.now(), revision, on)

    def pinned_today(self) -> Pinned | None:
        """Find today's sheet, if there is one."""
        self.store()
        return None if self._sheets is None else self._sheets.pinned_today(self.now())

    def today(self) -> date:
        """Say which day it is in the shop; in the world's time zone if there are no rates."""
        return day_in_shop(self.pinned_today(), self.now())

    def read(self, work: Callable[[Database], T]) -> T | None:
        """Read something from the store; nothing if there is none. Raises ``StoreTrouble``."""
        store, path = self.store(), self.settings.store
        if store is None or path is None:
            return None
        with told_as_trouble(path):
            return work(store)

    def go_on(self, work: Coroutine[None, None, None]) -> None:
        """Do something beside the answers; ``is_closed`` says that it is to end."""
        task = asyncio.get_running_loop().create_task(work)
        self._going_on.add(task)
        task.add_done_callback(self._going_on.discard)

    def read_sheets(self, work: Callable[[Database, Sheets], T]) -> T | None:
        """Read something from the store and the sheets kept of it; nothing if there is none."""
        sheets = self._sheets
        return self.read(lambda store: None if sheets is None else work(store, sheets))

    async def write(self, work: Callable[[Database], T]) -> T:
        """Do something that writes, away from the requests that are answered meanwhile.

        Raises ``StoreTrouble`` and whatever ``work`` raises.
        """
        return await asyncio.to_thread(self._write, work)

    def _write(self, work: Callable[[Database], T]) -> T:
        path = self.settings.store
        if path is None:
            raise StoreTrouble("no-store", "the service was started without a store")
        try:
            store = open_store(path)
        except StoreTrouble as trouble:
            if trouble.kind == "store-unavailable" and self.has_store():  # it is read all the time
                detail = f"{path} may not be written; check its owner, folder and disk"
                raise StoreTrouble("store-read-only", detail) from None
            raise
        try:
            with told_as_trouble(path):
                return work(store)
        finally:
            store.close()

    def count(self, asker: Asker, quotes: int = 1) -> None:
        """Count what callers ask who see no costs; asking for none is refused too if it is much.

        A batch larger than a minute's worth takes all that is left after its first. Raises
        ``Refused``.
        """
        if asker.door == "public" or (asker.door == "key" and not asker.sees_costs):
            self._count(asker.door, asker.name, quotes)

    def count_wrong_key(self, address: str) -> None:
        """Count a key that opens nothing. Raises ``Refused``."""
        self._count("wrong key", address, 1)

    def _count(self, door: str, name: str, quotes: int) -> None:
        rate = self._rates[door]
        most = max(1, min(quotes, rate.amount - 1))
        if quotes == 0:
            is_let_in = self._limiter.test(rate, door, name)
        else:
            is_let_in = self._limiter.hit(rate, door, name, cost=most)
        if not is_let_in:
            again_at = self._limiter.get_window_stats(rate, door, name).reset_time
            raise TooMany(max(1, math.ceil(again_at - time.time())))


def _note(store: Database, used: dict[str, datetime]) -> None:
    with writing(store):
        note_use(store, used)


class TooMany(Refused):
    """A caller asks too often."""

    def __init__(self, seconds: int) -> None:
        """Say in how many seconds to ask again."""
        super().__init__(
            "too-many-requests", (Fault(UNSET, "ask less often; Retry-After says when to go on"),)
        )
        self.headers = {"Retry-After": str(seconds)}

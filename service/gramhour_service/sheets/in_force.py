"""Which sheet is in force on a day, as known at a revision; kept while it is good."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from itertools import accumulate
from typing import NamedTuple

from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.days import day_at
from gramhour_service.resolve.rates import Kept
from gramhour_service.sheets.rows import sheet_from
from gramhour_service.store.opening import path_of
from gramhour_service.store.rates import (
    Change,
    Key,
    latest_changes,
    newest_revision,
    planned_changes,
)
from gramhour_service.store.trouble import StoreTrouble, told_as_trouble

MOST_KEPT = 16
MOST_RATES_KEPT = 50_000
"""Of all sheets together but for the one used last. So many take some 70 MB.

One beside it is kept however large: where it is another day in the shop than in the world's time
zone, and a change lies between, each request looks at the sheets of both.
"""


class NoSuchRevision(Exception):
    """A revision was asked for that does not exist; ``newest`` is the last that does."""

    def __init__(self, newest: int) -> None:
        """Keep the number of the newest revision."""
        super().__init__(newest)
        self.newest = newest


class NothingInForce(Exception):
    """No sheet is in force on that day as known then."""


class NothingStored(NothingInForce):
    """No rates were ever stored: there is none on any day."""


class InForce(NamedTuple):
    """A sheet, the stretch of days in which it holds, and the changes that made it so.

    ``until`` is the first day of the next planned change, if there is one. Changes without a
    value made rates absent. ``kept`` is what was resolved of the sheet.
    """

    sheet: RateSheet
    revision: int
    since: date
    until: date | None
    changes: dict[Key, Change]
    kept: Kept

    @property
    def present(self) -> list[Change]:
        """The changes of the rates that are there, by kind and code."""
        return [change for change in self.changes.values() if change.value is not None]

    def holds_on(self, day: date) -> bool:
        """Say whether a day is within the stretch."""
        return self.since <= day and (self.until is None or day < self.until)


class Pinned(NamedTuple):
    """A sheet in force, and the day that was asked for."""

    in_force: InForce
    on: date


def read_in_force(store: Database, revision: int, on: date) -> InForce:
    """Read the sheet in force from the store. Raises ``NothingInForce``."""
    changes = latest_changes(store, revision, on)
    planned = planned_changes(store, revision, on)
    present = [change for change in changes.values() if change.value is not None]
    if not present:
        raise NothingInForce
    return InForce(
        sheet=_sound(present, revision, on),
        revision=revision,
        since=max(date.fromisoformat(change.effective_from) for change in changes.values()),
        until=date.fromisoformat(planned[0].effective_from) if planned else None,
        changes=changes,
        kept={},
    )


def _sound(changes: Iterable[Change], revision: int, on: date) -> RateSheet:
    """Read a stored sheet; all were sound when they were saved."""
    try:
        return sheet_from(changes)
    except Refused as refused:
        raise StoreTrouble(
            "store-unavailable", f"its sheet of {on}, revision {revision}, is unsound: {refused}"
        ) from None


def day_in_shop(today: Pinned | None, now: datetime) -> date:
    """Say which day it is in the shop; in the world's time zone if it has no rates."""
    return now.astimezone(UTC).date() if today is None else today.on


class Sheets:
    """The sheets of a store; those used last are kept.

    The store is asked for its newest revision each time, so what any process saved is seen by
    the next request.
    """

    def __init__(self, store: Database, most_rates: int = MOST_RATES_KEPT) -> None:
        """Read from ``store``; of sheets with more rates together two are kept."""
        self._store, self._path, self._most_rates = store, path_of(store), most_rates
        self._kept: tuple[InForce, ...] = ()
        self._nothing: tuple[int, date] | None = None

    def pinned(self, now: datetime, revision: int | None = None, on: date | None = None) -> Pinned:
        """Find the sheet of a day as known at a revision; by default of today, as known now.

        Today is the shop's. Raises ``NoSuchRevision``, ``NothingInForce`` and ``StoreTrouble``.
        """
        with told_as_trouble(self._path):
            newest = newest_revision(self._store)
            if not newest:
                raise NothingStored
            if revision is None:
                revision = newest
            if revision > newest:
                raise NoSuchRevision(newest)
            if on is None:
                return self._today(now, revision)
            return Pinned(self._in_force(revision, on), on)

    def pinned_today(self, now: datetime) -> Pinned | None:
        """Find today's sheet, if there is one. Raises ``StoreTrouble``."""
        try:
            return self.pinned(now)
        except NothingInForce:
            return None

    def at(self, revision: int, day: str) -> InForce:
        """Find the sheet of a stored revision and day. Raises ``NothingInForce``."""
        with told_as_trouble(self._path):
            return self._in_force(revision, date.fromisoformat(day))

    def _today(self, now: datetime, revision: int) -> Pinned:
        """Find today's sheet. Which day it is says the zone that a sheet of about today names."""
        world = now.astimezone(UTC).date()
        try:
            about = self._in_force(revision, world)
        except NothingInForce:  # the first sheet of a shop where it is tomorrow already
            about = self._in_force(revision, world + timedelta(days=1))
        today = day_at(now, about.sheet)
        found = about if about.holds_on(today) else self._in_force(revision, today)
        return Pinned(found, today)

    def _in_force(self, revision: int, on: date) -> InForce:
        for kept in self._kept:
            if kept.revision == revision and kept.holds_on(on):
                return self._used(kept)
        if self._nothing == (revision, on):
            raise NothingInForce
        try:
            found = read_in_force(self._store, revision, on)
        except NothingInForce:
            self._nothing = revision, on  # no revision is ever changed
            raise
        return self._used(found)

    def _used(self, sheet: InForce) -> InForce:
        """Keep a sheet as the one used last, and of the others those that there is room for."""
        if not self._kept or self._kept[0] is not sheet:
            others = [each for each in self._kept if each is not sheet][: MOST_KEPT - 1]
            so_far = accumulate(len(each.changes) for each in others)
            fits = [each for each, n in zip(others, so_far, strict=True) if n <= self._most_rates]
            self._kept = (sheet, *(fits or others[:1]))
        return sheet

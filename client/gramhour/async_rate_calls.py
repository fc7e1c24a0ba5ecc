"""What the asynchronous client asks of the stored rates: the same calls as in ``rate_calls``."""

from collections.abc import AsyncGenerator, Iterable
from datetime import date
from typing import Any, TypeVar

from msgspec import UNSET

from gramhour import calls, calls_of_changes
from gramhour.calls import Call, Kind
from gramhour.calls_of_changes import Change
from gramhour.contract.changes import (
    RevisionChanges,
    Revisions,
    SavedChanges,
    SavedRate,
    StoredRevision,
)
from gramhour.contract.stored import StoredKind, StoredRate, StoredSheet

T = TypeVar("T")


class AsyncRateCalls:
    """The part of ``AsyncClient`` that asks for rates."""

    async def rates(
        self, *, rates_revision: int | None = None, rates_on: date | None = None
    ) -> StoredSheet:
        """Read the rate sheet: see ``Client.rates``."""
        return await self._ask(calls.rates(rates_revision, rates_on))

    async def rates_kind(
        self, kind: Kind, *, rates_revision: int | None = None, rates_on: date | None = None
    ) -> StoredKind:
        """Read all rates of a kind: see ``Client.rates_kind``."""
        return await self._ask(calls.rates_kind(kind, rates_revision, rates_on))

    async def rate(
        self,
        kind: Kind,
        code: str,
        *,
        rates_revision: int | None = None,
        rates_on: date | None = None,
    ) -> StoredRate:
        """Read one rate: see ``Client.rate``."""
        return await self._ask(calls.rate(kind, code, rates_revision, rates_on))

    async def change_rates(
        self,
        changes: Iterable[Change],
        *,
        based_on_revision: int,
        effective_from: date | None = None,
        note: str | None = None,
        trial: bool = False,
    ) -> SavedChanges:
        """Change several rates as one revision: see ``Client.change_rates``."""
        call = calls_of_changes.change_rates(
            changes, based_on_revision, effective_from, note, trial=trial
        )
        return await self._ask(call)

    async def put_rate(
        self,
        kind: Kind,
        code: str,
        value: Any,
        *,
        if_match: str | None = None,
        new: bool = False,
        effective_from: date | None = None,
        note: str | None = None,
    ) -> SavedRate:
        """Put a rate in place of what it is, or a new one: see ``Client.put_rate``."""
        key = (kind, code)
        call = calls_of_changes.put_rate(key, value, if_match, effective_from, note, new=new)
        return await self._ask(call)

    async def delete_rate(
        self,
        kind: Kind,
        code: str,
        *,
        if_match: str,
        effective_from: date | None = None,
        note: str | None = None,
    ) -> None:
        """Take a rate away: see ``Client.delete_rate``."""
        call = calls_of_changes.delete_rate((kind, code), if_match, effective_from, note)
        return await self._ask(call)

    async def revisions(self, *, limit: int | None = None, cursor: str | None = None) -> Revisions:
        """Read a page of the revisions: see ``Client.revisions``."""
        return await self._ask(calls_of_changes.revisions(limit, cursor))

    async def all_revisions(self) -> AsyncGenerator[StoredRevision, None]:
        """Read all revisions: see ``Client.all_revisions``."""
        cursor: str | None = None
        while True:
            page = await self.revisions(cursor=cursor)
            for each in page.items:
                yield each
            if page.next_cursor is UNSET:
                return
            cursor = page.next_cursor

    async def revision(self, number: int) -> StoredRevision:
        """Read who made a revision: see ``Client.revision``."""
        return await self._ask(calls_of_changes.revision(number))

    async def revision_changes(self, number: int, *, since: int | None = None) -> RevisionChanges:
        """Read what a revision changed: see ``Client.revision_changes``."""
        return await self._ask(calls_of_changes.revision_changes(number, since))

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError

"""What the client asks of the stored rates: to read them, to change them, what was changed."""

from collections.abc import Generator, Iterable
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


class RateCalls:
    """The part of ``Client`` that asks for rates."""

    def rates(
        self, *, rates_revision: int | None = None, rates_on: date | None = None
    ) -> StoredSheet:
        """Read the rate sheet: today's as known now, or another day's, or as known earlier.

        >>> client.rates().rates.labour_rate_per_hour
        Decimal('32.00')
        """
        return self._ask(calls.rates(rates_revision, rates_on))

    def rates_kind(
        self, kind: Kind, *, rates_revision: int | None = None, rates_on: date | None = None
    ) -> StoredKind:
        """Read all rates of a kind, by code; of ``shop``, what is sheet-wide.

        >>> sorted(client.rates_kind("nozzles").rates)
        ['n04', 'n06', 'n08']
        """
        return self._ask(calls.rates_kind(kind, rates_revision, rates_on))

    def rate(
        self,
        kind: Kind,
        code: str,
        *,
        rates_revision: int | None = None,
        rates_on: date | None = None,
    ) -> StoredRate:
        """Read one rate, the revision that last changed it and the day it is in force from.

        Its ``value`` has the type that it has in a ``RateSheet``; its ``tag`` is what
        ``put_rate`` and ``delete_rate`` take as ``if_match``.

        >>> client.rate("machines", "large").value.power_w
        Decimal('240')
        """
        return self._ask(calls.rate(kind, code, rates_revision, rates_on))

    def change_rates(
        self,
        changes: Iterable[Change],
        *,
        based_on_revision: int,
        effective_from: date | None = None,
        note: str | None = None,
        trial: bool = False,
    ) -> SavedChanges:
        """Change several rates as one revision, all or none, from today or a day on.

        Each change is a rate whole, as it is to be, or None to take it away. Needs a key with
        scope ``rates``. ``based_on_revision`` is the newest revision that you know: if there are
        later ones, ``Refusal`` (``moved-on``) says what they changed. Where there are none yet, 0
        begins a shop by all that a sheet needs. A ``trial`` checks and tells, and saves nothing.
        Tries carry one ``Idempotency-Key``, so it is done once.

        >>> dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
        >>> saved = client.change_rates(
        ...     [dearer], based_on_revision=1, effective_from=date(2999, 12, 7), trial=True
        ... )
        >>> [(each.done, each.before, each.after) for each in saved.changes]
        [('changed', '32.00', '33.50')]
        """
        call = calls_of_changes.change_rates(
            changes, based_on_revision, effective_from, note, trial=trial
        )
        return self._ask(call)

    def put_rate(
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
        """Put a rate, whole, in place of what it is; or a ``new`` one.

        ``if_match`` is the ``tag`` of what you read: if it has changed since, ``Refusal``
        (``precondition-failed``) says how. A change for a later day needs the tag of that day
        (``rates_on``). A rate that is so already is answered as if it had just been put, whatever
        the tag, so a repeated call does no harm.

        >>> nozzle = client.rate("nozzles", "n04")
        >>> saved = client.put_rate("nozzles", "n04", nozzle.value, if_match=nozzle.tag)
        >>> saved.tag == nozzle.tag  # nothing differed
        True
        """
        key = (kind, code)
        call = calls_of_changes.put_rate(key, value, if_match, effective_from, note, new=new)
        return self._ask(call)

    def delete_rate(
        self,
        kind: Kind,
        code: str,
        *,
        if_match: str,
        effective_from: date | None = None,
        note: str | None = None,
    ) -> None:
        """Take a rate away, from today or a day on; what it was stays readable.

        One that is gone is refused as ``unknown-rate``. So is a try that is repeated because the
        answer to the one before was lost: then ``unknown-rate`` says that it is done.

        >>> spare = client.put_rate("nozzles", "n10", {"price": "9.50"}, new=True)
        >>> client.delete_rate("nozzles", "n10", if_match=spare.tag)
        """
        call = calls_of_changes.delete_rate((kind, code), if_match, effective_from, note)
        return self._ask(call)

    def revisions(self, *, limit: int | None = None, cursor: str | None = None) -> Revisions:
        """Read who changed the rates, when and why, a page at a time, the newest first.

        >>> client.revisions(limit=1).items[0].made_by
        'this process'
        """
        return self._ask(calls_of_changes.revisions(limit, cursor))

    def all_revisions(self) -> Generator[StoredRevision, None, None]:
        """Read all revisions, the newest first; pages are asked for as they are needed.

        >>> [each.rates_revision for each in client.all_revisions()][-1]
        1
        """
        cursor: str | None = None
        while True:
            page = self.revisions(cursor=cursor)
            yield from page.items
            if page.next_cursor is UNSET:
                return
            cursor = page.next_cursor

    def revision(self, number: int) -> StoredRevision:
        """Read who made a revision, when and why.

        >>> client.revision(1).note
        'rates given'
        """
        return self._ask(calls_of_changes.revision(number))

    def revision_changes(self, number: int, *, since: int | None = None) -> RevisionChanges:
        """Read what a revision changed, by rate and member, from the one before or ``since`` one.

        >>> {each.done for each in client.revision_changes(1).changes}
        {'added'}
        """
        return self._ask(calls_of_changes.revision_changes(number, since))

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError

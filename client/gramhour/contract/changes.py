"""Changes of the stored rates: what is sent to change them, what was done, and the history."""

from datetime import date, datetime
from typing import Annotated, Any, ClassVar, Literal

from msgspec import UNSET, Meta, UnsetType, field

from gramhour.contract.answer import Caution
from gramhour.contract.members import (
    Answered,
    Day,
    Note,
    OneWay,
    RevisionKnown,
    Sent,
    Way,
    member,
    one_of,
)
from gramhour.contract.rates import KindWithCodes
from gramhour.contract.stored import StoredRate

RateKind = Literal["shop", KindWithCodes]
Done = Annotated[str, one_of(Literal["added", "changed", "removed"])]


class RateChange(Sent, frozen=True, kw_only=True):
    """One rate, whole, as it is to be; ``null`` or ``remove`` takes it away."""

    kind: Annotated[RateKind, member("its kind; `shop` for what is sheet-wide")]
    code: Annotated[
        Annotated[str, Meta(pattern="^[a-z0-9][a-z0-9_-]{0,62}$")],
        member("its code; of `shop`, the member's name"),
    ]
    value: Annotated[Any, member("the rate as a sheet has it, or null")] = UNSET
    remove: Annotated[
        bool | UnsetType, member("true takes the rate away, as a null does, which TOML has none of")
    ] = UNSET

    one_way: ClassVar = (OneWay((Way(("value",)), Way(("remove",)))),)


class RateChanges(Sent, frozen=True, kw_only=True):
    """Several changes that make one revision: all of them or none."""

    changes: Annotated[
        Annotated[list[RateChange], Meta(min_length=1, max_length=1000)], member("what is to be")
    ]
    based_on_revision: Annotated[
        RevisionKnown, member("the newest revision that you know; 0 begins a shop without any")
    ]
    effective_from: Annotated[
        Day | UnsetType, member("in force from that day on; else from today in the shop")
    ] = UNSET
    note: Annotated[Note | UnsetType, member("why; a day in the past needs one")] = UNSET


class ChangedRate(Answered, frozen=True, kw_only=True):
    """A rate before and after a change; the side on which it is absent is left out."""

    kind: str
    code: str
    done: Done
    before: Any = UNSET
    after: Any = UNSET


class PlannedChange(Answered, frozen=True, kw_only=True):
    """A change that comes into force later and stands; without a value it takes the rate away."""

    kind: str
    code: str
    effective_from: date
    rates_revision: int
    value: Any = UNSET


class SavedChanges(Answered, frozen=True, kw_only=True):
    """What a change of the rates did, or in a trial would do.

    Without ``rates_revision`` nothing differed. ``overruled_by`` lists the planned changes of
    the same rates that will hold instead. ``cautions`` says of numbers that are hardly
    meant what is common, and what was probably meant.
    """

    rates_revision: int | UnsetType = UNSET
    trial: bool
    effective_from: date
    changes: list[ChangedRate]
    overruled_by: list[PlannedChange]
    cautions: list[Caution] = field(default_factory=list)


class SavedRate(StoredRate, frozen=True, kw_only=True):
    """A rate as it was saved, the planned changes that will hold instead, and ``cautions``.

    These say of numbers that are hardly meant what is common, and what was probably meant, and
    which members the rate had before and has no longer.
    """

    overruled_by: list[PlannedChange]
    cautions: list[Caution] = field(default_factory=list)


class StoredRevision(Answered, frozen=True, kw_only=True):
    """A revision: since when it is known, from when in force, by whom and why."""

    rates_revision: int
    known_since: datetime
    effective_from: date
    made_by: str
    note: str
    changes: int


class Revisions(Answered, frozen=True, kw_only=True):
    """Revisions, the newest first; ``next_cursor`` asks for those before them."""

    items: list[StoredRevision]
    next_cursor: str | UnsetType = UNSET


class ChangedMember(Answered, frozen=True, kw_only=True):
    """A member of a rate before and after; the side on which it is absent is left out."""

    pointer: str
    before: Any = UNSET
    after: Any = UNSET


class RateDifference(Answered, frozen=True, kw_only=True):
    """How a rate differs, from a day on, between two revisions."""

    kind: str
    code: str
    effective_from: date
    done: Done
    members: list[ChangedMember]


class RevisionChanges(Answered, frozen=True, kw_only=True):
    """What changed from one revision to another."""

    rates_revision: int
    since: int
    changes: list[RateDifference]

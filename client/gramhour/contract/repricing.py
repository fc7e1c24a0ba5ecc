"""Repricings: what listings should cost now, or under other rates, and why; and applying that."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType, field

from gramhour.contract.by_rates import DayAsked, RevisionAsked
from gramhour.contract.changes import RateChange
from gramhour.contract.members import (
    Answered,
    Day,
    Note,
    Sent,
    Share,
    Sku,
    Surcharge,
    member,
    one_of,
)
from gramhour.contract.problem import Fault

Skus = Annotated[list[Sku], Meta(max_length=10_000)]


class RepricingRequest(Sent, frozen=True, kw_only=True):
    """Which listings to price anew, and by which rates."""

    over: Annotated[
        Literal["affected", "all"] | UnsetType,
        member("those whose price can differ from the listed one, or all", default="affected"),
    ] = UNSET
    skus: Annotated[Skus | UnsetType, member("only these listings, affected or not")] = UNSET
    rates_revision: RevisionAsked = UNSET
    rates_on: DayAsked = UNSET
    proposed: Annotated[
        Annotated[list[RateChange], Meta(min_length=1, max_length=1000)] | UnsetType,
        member("rates as they might become; such a repricing cannot be applied"),
    ] = UNSET
    discount_pct: Annotated[
        Share | UnsetType, member("a sale: taken off the prices", default="0")
    ] = UNSET
    note: Annotated[Note | UnsetType, member("what it is for")] = UNSET


class ApplyRequest(Sent, frozen=True, kw_only=True):
    """Which of a repricing's prices are to hold, and from when."""

    except_: Annotated[Skus | UnsetType, member("listings whose price stays")] = field(
        default=UNSET, name="except"
    )
    effective_from: Annotated[
        Day | UnsetType,
        member("the day the prices hold from; else today, or the day of the rates if it is later"),
    ] = UNSET
    max_change_pct: Annotated[
        Surcharge | UnsetType,
        member(
            "a price that moves by more, or rises from 0, must be named in confirm", default="30"
        ),
    ] = UNSET
    confirm: Annotated[
        Skus | UnsetType, member("listings whose price may move by more than that")
    ] = UNSET
    note: Annotated[Note | UnsetType, member("why")] = UNSET


State = Annotated[
    str, one_of(Literal["running", "paused", "finished", "failed", "broken_off", "applied"])
]
Outcome = Annotated[str, one_of(Literal["new", "up", "down", "unchanged", "held", "failed"])]


class Counts(Answered, frozen=True, kw_only=True):
    """How many listings have which outcome.

    ``under_floor`` counts those whose new price has a margin below their floor,
    ``under_floor_if_kept`` those whose listed price would have one, if nothing is done.
    """

    new: int = 0
    up: int = 0
    down: int = 0
    unchanged: int = 0
    held: int = 0
    failed: int = 0
    under_floor: int = 0
    under_floor_if_kept: int = 0


class MoveRange(Answered, frozen=True, kw_only=True):
    """By how many per cent prices move, without a sign: of each listing its largest move counts.

    Half of the listings move by ``median_pct`` at most, half by no less.
    """

    least_pct: Decimal
    median_pct: Decimal
    most_pct: Decimal


class Repricing(Answered, frozen=True, kw_only=True):
    """A repricing: what it is of, how far it has come, what it found.

    ``up_by`` and ``down_by`` say, once it is finished, by how much the prices of those counts move;
    absent where none does. A rise from 0 has no percentage, and is not in them; nor is what moves
    by 0.005 % or less, or not at all, as where only the tax, and so the net price, changes.
    """

    id: str
    state: State
    done: int
    of: int
    rates_revision: int
    rates_on: date
    is_proposed: bool
    discount_pct: Decimal | UnsetType = UNSET
    note: str
    counts: Counts
    up_by: MoveRange | UnsetType = UNSET
    down_by: MoveRange | UnsetType = UNSET
    asked_at: datetime
    asked_by: str
    finished_at: datetime | UnsetType = UNSET
    applied_at: datetime | UnsetType = UNSET
    applied_by: str | UnsetType = UNSET
    says: str | UnsetType = UNSET


class Effect(Answered, frozen=True, kw_only=True):
    """By how much something moved a break: its unit cost, and its shown price."""

    unit_cost: Decimal
    unit_price: Decimal


class RateEffect(Effect, frozen=True, kw_only=True):
    """The effect of one rate alone: the old sheet with only that one new, minus the old one."""

    kind: str
    code: str


class LineBreak(Answered, frozen=True, kw_only=True):
    """One break of a listing, before and after.

    Old members are absent where the listing had no price. ``margin_if_kept_pct`` is the margin
    of the old price at today's cost; the least margins hold over the stretch up to the next
    break. ``moved_by`` (rates one by one), ``description`` (the product or listing was changed)
    and ``together`` (what they cause together) add up to the difference, exactly.
    """

    from_quantity: int
    old_unit_price: Decimal | UnsetType = UNSET
    unit_price: Decimal
    unit_cost_before: Decimal | UnsetType = UNSET
    unit_cost: Decimal
    margin_if_kept_pct: Decimal | UnsetType | None = UNSET
    margin_pct: Decimal | None
    least_margin_pct: Decimal | None
    least_margin_at: int
    least_margin_if_kept_pct: Decimal | UnsetType | None = UNSET
    moved_by: list[RateEffect]
    description: Effect | UnsetType = UNSET
    together: Effect | UnsetType = UNSET


class RepricingLine(Answered, frozen=True, kw_only=True):
    """One listing of a repricing. ``change_pct`` is its largest move of a price, signed.

    It is absent where there was no price, or all that move were 0: that has no percentage.
    """

    sku: str
    name: str
    channel: str
    outcome: Outcome
    change_pct: Decimal | UnsetType = UNSET
    under_floor: bool = False
    under_floor_if_kept: bool = False
    breaks: list[LineBreak]
    errors: list[Fault] | UnsetType = UNSET


class RepricingLines(Answered, frozen=True, kw_only=True):
    """Lines, those under their floor first, then the largest move first."""

    id: str
    items: list[RepricingLine]
    next_cursor: str | UnsetType = UNSET


class Repricings(Answered, frozen=True, kw_only=True):
    """Repricings, the newest first."""

    items: list[Repricing]
    next_cursor: str | UnsetType = UNSET


class PlannedPrice(Answered, frozen=True, kw_only=True):
    """A price of a listing that takes over on a later day."""

    sku: str
    valid_from: date
    change: int


class PlannedByRecalled(Answered, frozen=True, kw_only=True):
    """How many prices by recalled rates take over on a later day.

    ``recalled_revision`` stands here while the newest rates are of a recalled revision themselves:
    save right ones first, else a repricing makes prices by recalled rates again.
    """

    valid_from: date
    prices: int
    recalled_revision: int | UnsetType = UNSET


class Applied(Answered, frozen=True, kw_only=True):
    """What applying did: how many prices changed, and the newest change number.

    ``failed`` counts lines that have no new price. ``overruled_by`` lists planned prices of the
    same listings that come later and stand, the soonest first (the first 100 of ``overruled``).
    ``planned_by_recalled`` lists, of all listings, the days on which prices by recalled rates still
    take over: a repricing over ``all`` by the rates of that day puts right ones in their place.
    """

    id: str
    applied: int
    left_out: int
    failed: int
    valid_from: date
    change: int
    overruled: int
    overruled_by: list[PlannedPrice]
    planned_by_recalled: list[PlannedByRecalled] = field(default_factory=list)

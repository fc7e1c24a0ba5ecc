"""What comes of a comparison: the alternatives side by side, and which is best at how many.

Money and percentages are decimals (strings on the wire), physical amounts are numbers.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Caution
from gramhour.contract.comparison import Criterion
from gramhour.contract.members import Answered, one_of


class Compared(Answered, frozen=True, kw_only=True):
    """One alternative at one quantity.

    ``unit_price`` and ``margin_pct`` are those of its own price. What follows is at the market
    price where one was given, else at its own: ``market_margin_pct`` (absent without one), the
    order's ``profit``, and the contributions. Hours and minutes are the order's. ``ready_on`` is
    null where it cannot be scheduled, and absent where the sheet has no staffed hours.
    """

    quantity: int
    unit_cost: Decimal
    unit_price: Decimal
    margin_pct: Decimal | None
    market_margin_pct: Decimal | UnsetType | None = UNSET
    machine_h: float
    labour_min: float
    profit: Decimal
    contribution_per_machine_hour: Decimal | None
    contribution_per_labour_hour: Decimal | None
    ready_on: date | UnsetType | None = UNSET


class Payback(Answered, frozen=True, kw_only=True):
    """When a purchase has paid for itself, in orders of so many units.

    ``gain_per_unit`` is what a unit contributes more than one of the first alternative, at the
    ``unit_price`` of both. ``units`` and ``months`` (absent where no demand was given) are null
    where it never does: ``outcome`` says so. Machine hours that become free
    (``machine_h_saved_per_unit``) earn nothing there. Where every hour is sold,
    ``machine_h_when_full`` counts the hours in which it pays for itself, null for never.
    """

    quantity: int
    unit_price: Decimal
    gain_per_unit: Decimal
    outcome: Annotated[str, one_of(Literal["pays_back", "never"])]
    units: int | None
    months: float | UnsetType | None = UNSET
    machine_h_saved_per_unit: float
    machine_h_when_full: float | None


class ComparedAlternative(Answered, frozen=True, kw_only=True):
    """One alternative at each quantity, in rising order; when its purchase has paid for itself."""

    label: str
    at: list[Compared]
    payback: list[Payback] | UnsetType = UNSET


class Ranked(Answered, frozen=True, kw_only=True):
    """An alternative in its place, with what it was ranked by."""

    label: str
    value: Decimal | None


class Ranking(Answered, frozen=True, kw_only=True):
    """The alternatives at one quantity, the best first."""

    quantity: int
    alternatives: list[Ranked]


class Interval(Answered, frozen=True, kw_only=True):
    """Quantities that one alternative is the best at; no label where none has a value."""

    from_quantity: int
    to_quantity: int
    label: str | None


class Comparison(Answered, frozen=True, kw_only=True):
    """The alternatives side by side.

    ``intervals`` are over the quantities that the channel sells, up to the one asked.
    """

    currency: str
    rules: str
    rates_revision: int | UnsetType = UNSET
    rates_on: date | UnsetType = UNSET
    criterion: Annotated[str, one_of(Criterion)]
    market_price: Decimal | UnsetType = UNSET
    alternatives: list[ComparedAlternative]
    rankings: list[Ranking]
    intervals: list[Interval] | UnsetType = UNSET
    cautions: list[Caution]


class ComparisonRun(Answered, frozen=True, kw_only=True):
    """A comparison too large to be answered at once: how far it is, and what came of it.

    ``done`` and ``of`` count evaluations, alternatives times quantities. It is kept for a day.
    """

    id: str
    state: Annotated[str, one_of(Literal["running", "finished", "failed", "broken_off"])]
    done: int
    of: int
    asked_at: datetime
    asked_by: str
    finished_at: datetime | UnsetType = UNSET
    says: str | UnsetType = UNSET
    comparison: Comparison | UnsetType = UNSET

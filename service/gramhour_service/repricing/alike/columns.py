"""What is found of listings that are priced at once: columns of whole numbers, one of each listing.

They count the last decimal that is told: of prices that of the minor unit, of costs and net prices
the fourth, of percentages the second.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour.contract.listed import ListedBreak
from gramhour_service.calculation.arithmetic import LAST_PLACE
from gramhour_service.repricing.alike.many import Many, Number
from gramhour_service.repricing.evaluating import Offered
from gramhour_service.repricing.lines import Listed

Wholes = NDArray[np.int64]
COST, PER_CENT = 4, 2
MUCH = Decimal(10) ** 10


class ToPrice(NamedTuple):
    """A listing to price anew, and its price as it stands."""

    offered: Offered
    listed: Listed | None


class BreakBefore(NamedTuple):
    """What is listed at a break."""

    unit_price: Wholes
    unit_cost: Wholes
    unit_price_net: Wholes


class BreakNow(NamedTuple):
    """What a break costs and is priced at, and the margins of that."""

    unit_price: Wholes
    unit_cost: Wholes
    unit_price_net: Wholes
    margin_pct: Wholes
    least_margin_pct: Wholes
    least_margin_at: Wholes


class BreakIfKept(NamedTuple):
    """The margins of what is listed at a break."""

    margin_pct: Wholes
    least_margin_pct: Wholes


class Break(NamedTuple):
    """A break of all listings: now, and what was listed, if anything was."""

    quantity: int
    now: BreakNow
    before: BreakBefore | None
    if_kept: BreakIfKept | None


def wholes(number: Number, places: int, size: int) -> Wholes:
    """Take rounded numbers as whole ones, one for each of so many."""
    if isinstance(number, Many):
        return number.whole(places)
    return np.full(size, int(Decimal(number).scaleb(places)), np.int64)


def are_told_with(breaks: Sequence[ListedBreak], digits: int) -> bool:
    """Say whether listed prices have the decimals that they are told with today, and room."""
    minor, cost = LAST_PLACE[digits], LAST_PLACE[COST]
    return all(
        minor.same_quantum(each.unit_price)
        and cost.same_quantum(each.unit_cost)
        and cost.same_quantum(each.unit_price_net)
        and max(each.unit_price, each.unit_cost) < MUCH
        for each in breaks
    )


def breaks_before(listed: Sequence[Sequence[ListedBreak]], digits: int) -> list[BreakBefore]:
    """Put together what is listed at each break; all have the same ones."""
    return [
        BreakBefore(
            _of_each([each.unit_price for each in at], digits),
            _of_each([each.unit_cost for each in at], COST),
            _of_each([each.unit_price_net for each in at], COST),
        )
        for at in zip(*listed, strict=True)
    ]


def _of_each(amounts: list[Decimal], places: int) -> Wholes:
    found: Any = np.rint(np.array([*map(float, amounts)]) * 10.0**places)
    of_each: Wholes = found.astype(np.int64)
    return of_each

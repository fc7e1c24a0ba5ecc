"""Parcels and postage of an order."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.job import PostageRow
from gramhour_service.calculation.rules import rule


class Postage(NamedTuple):
    """What an order's parcels cost the shop, and what the buyer is charged for them as shown."""

    cost: Decimal
    charged: Decimal


@rule
def parcels(rows: Sequence[PostageRow], units: int) -> list[tuple[int, PostageRow]]:
    """As many parcels of the largest row as are filled; the rest in the smallest that holds it.

    ``rows`` stand in order of size; no row, no parcel.
    """
    if not rows:
        return []
    full, rest = divmod(units, rows[-1].up_to_units)
    sent = [(full, rows[-1])] if full else []
    if rest:
        sent.append((1, next(row for row in rows if row.up_to_units >= rest)))
    return sent


def postage(rows: Sequence[PostageRow], units: int) -> Postage:
    """Add up an order's parcels."""
    cost = charged = ZERO
    for n, row in parcels(rows, units):
        cost += n * row.cost
        charged += n * row.charged
    return Postage(cost, charged)

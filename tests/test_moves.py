"""By how much many listings move is said of all at once as it is of each."""

from decimal import Decimal
from functools import partial
from random import Random

import numpy as np

from gramhour.contract.listing import Listing
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.repricing.alike.moves import moves_of_each
from gramhour_service.repricing.moves import largest_pct, moves_between, outcome_of

BREAKS, LISTINGS = (1, 10, 50), 400
WORTH = 3
LISTING = Listing(product="pot", channel="own-shop", least_change=Decimal("0.03"))


def drawn(rng: Random, most: int) -> list[list[int]]:
    """Draw some numbers for each break, small enough that shares are equal at times."""
    return [[rng.randint(1, most) for _ in range(LISTINGS)] for _ in BREAKS]


def each(rows: list[list[int]], n: int, places: int) -> dict[int, Decimal]:
    """Take one listing's amounts, by the quantity they hold from."""
    amounts = [Decimal(row[n]).scaleb(-places) for row in rows]
    return dict(zip(BREAKS, amounts, strict=True))


def test_moves_of_many_listings_are_those_of_each() -> None:
    rng = Random(8)
    before, nets = drawn(rng, 320), drawn(rng, 9)
    now = [[price + rng.choice((0, 0, -2, 1, 5, 30)) for price in row] for row in before]
    now = [[max(price, 1) for price in row] for row in now]
    nets_now = drawn(rng, 9)
    found = moves_of_each(
        np.array(before),
        np.array(now),
        np.array(nets),
        np.array(nets_now),
        np.full(LISTINGS, WORTH, np.int64),
    )
    assert not found.left.any()
    with costing_arithmetic():
        for n in range(LISTINGS):
            moves = moves_between(each(before, n, 2), each(now, n, 2))
            by_net = partial(moves_between, each(nets, n, 4), each(nets_now, n, 4))
            assert found.outcomes[n] == outcome_of(LISTING, moves, by_net)
            assert Decimal(int(found.change_pct[n])).scaleb(-2) == largest_pct(moves)
    assert {"up", "down", "unchanged"} == set(found.outcomes)


def test_what_rises_from_nothing_or_has_no_room_is_left() -> None:
    before, now = np.array([[0, 5, 5]]), np.array([[5, 6, 4_000_000_000]])
    assert moves_of_each(before, now, before, now, before[0]).left.tolist() == [True, False, True]

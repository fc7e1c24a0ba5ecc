"""Exact covers against trying everything, and on families that would defeat a greedy search."""

import heapq
import itertools
import sys
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from random import Random
from types import FrameType
from typing import Any

import pytest

from gramhour_service.calculation import cover
from gramhour_service.calculation.cover import cheapest_packs, open_price
from gramhour_service.calculation.job import Offers, PackOffer

Ranking = tuple[Decimal, int, int, tuple[int, ...]]
"""Price, left over, packs, and packs of each size in the order named (more of the first wins)."""


def offers_of(rows: Iterable[tuple[int, str, int]]) -> Offers:
    return tuple(PackOffer(size, Decimal(price), start) for size, price, start in rows)


def sizes_of(offers: Offers) -> list[int]:
    return list(dict.fromkeys(offer.pack_quantity for offer in offers))


def ranked(offers: Offers, counts: dict[int, int], need: int) -> Ranking | None:
    """Rank a set of packs, or nothing if no price is open to some of them or it is too small."""
    held = sum(size * packs for size, packs in counts.items())
    if held < need:
        return None
    price = Decimal(0)
    for size, packs in counts.items():
        if packs:
            opened = [o.price for o in offers if o.pack_quantity == size and o.from_packs <= packs]
            if not opened:
                return None
            price += packs * min(opened)
    order = tuple(-counts.get(size, 0) for size in sizes_of(offers))
    return price, held - need, sum(counts.values()), order


def by_trying_everything(offers: Offers, need: int) -> list[Ranking]:
    """Rank all sets that no smaller one replaces; the best first, and the next one to it."""
    sizes = sizes_of(offers)
    most = {
        size: max(-(-need // size), *(o.from_packs for o in offers if o.pack_quantity == size), 0)
        for size in sizes
    }
    choices = itertools.product(*(range(most[size] + 1) for size in sizes))
    sets = (ranked(offers, dict(zip(sizes, each, strict=True)), need) for each in choices)
    return heapq.nsmallest(2, (each for each in sets if each is not None))


def found(offers: Offers, need: int) -> Ranking:
    ranking = ranked(offers, {p.pack_quantity: p.packs for p in cheapest_packs(offers, need)}, need)
    assert ranking is not None
    return ranking


def drawn(random: Random) -> tuple[Offers, int]:
    if random.random() < 0.25:  # one price a piece: many sets are equally cheap
        even = [(size, str(size), 1) for size in random.sample(range(2, 9), 3)]
        return offers_of(even), random.randint(6, 24)
    rows = [
        (
            random.choice([1, 2, 3, 4, 5, 6, 10, 12]),
            str(Decimal(random.choice([0, 1, 2, 3, 5, 8, random.randint(1, 40)])) / 4),
            random.choice([1, 1, 1, 2, 3, 5]),
        )
        for _ in range(random.randint(1, 5))
    ]
    sizes = list(dict.fromkeys(row[0] for row in rows))[:3]
    return offers_of(row for row in rows if row[0] in sizes), random.randint(1, 24)


def test_2000_drawn_covers_equal_the_best_of_all_sets() -> None:
    random = Random(20261125)
    decided: Counter[str] = Counter()
    for _ in range(2000):
        offers, need = drawn(random)
        best, *others = by_trying_everything(offers, need)
        assert found(offers, need) == best, (offers, need)
        decided["more than needed opens a price"] += best[1] >= max(sizes_of(offers))
        if others:
            by = zip(("price", "left over", "packs", "first named"), best, others[0], strict=True)
            decided[next(name for name, one, other in by if one != other)] += 1
    assert set(decided) >= {"price", "left over", "packs", "first named"}
    assert min(decided.values()) >= 20, decided


def test_a_cover_is_monotone_and_never_dearer_than_one_offer_alone() -> None:
    random = Random(7)
    for _ in range(150):
        offers, _ = drawn(random)
        before = Decimal(0)
        for need in range(1, 60):
            price = found(offers, need)[0]
            assert price >= before
            before = price
            for offer in offers:
                packs = max(offer.from_packs, -(-need // offer.pack_quantity))
                assert price <= packs * open_price(offers, offer.pack_quantity, packs)


def test_of_equally_cheap_sets_least_left_over_then_fewest_packs_then_the_first_named() -> None:
    same_price = offers_of([(4, "4", 1), (6, "4", 1)])
    assert [tuple(p) for p in cheapest_packs(same_price, 4)] == [(4, 1)]
    fewest = offers_of([(1, "1", 1), (5, "5", 1)])
    assert [tuple(p) for p in cheapest_packs(fewest, 5)] == [(5, 1)]
    first = offers_of([(3, "3", 1), (4, "4", 1), (2, "2", 1), (5, "5", 1)])
    assert [tuple(p) for p in cheapest_packs(first, 7)] == [(3, 1), (4, 1)]


ADVERSARIES = {
    "even sizes only": [(10000, "100", 1), (9998, "99.98", 1), (9996, "99.96", 1)],
    "ratios a hair apart": [(9973, "99.73", 1), (9967, "99.670001", 1), (9949, "99.490002", 1)],
    "prices that open late": [
        (s, f"{s / 100:.2f}", f)
        for s, f in zip(
            (9973, 9967, 9949, 9941, 9931, 9929, 9923, 9907),
            (2, 3, 5, 7, 11, 13, 17, 19),
            strict=True,
        )
    ],
    "eight sizes next to each other": [
        (10_000 - k, f"{(10_000 - k) / 100 + k / 1000:.3f}", 1) for k in range(8)
    ],
    "no price from the first pack on": [(10, "1.00", 2), (9, "0.91", 3), (10, "0.99", 50)],
    "sets that nothing tells apart but their names": [
        (s, f"{s / 100:.2f}", 1) for s in (9_960, 9_970, 9_950, 9_980)
    ],
    "nothing to pay": [(7, "0", 1), (11, "0", 3)],
    "four sizes, two tiers each": [
        (s, f"{s * p:.2f}", f)
        for s, p in ((9973, 0.010), (4801, 0.0101), (1201, 0.0102), (97, 0.012))
        for f, p in ((1, p), (20, p * 0.97))
    ],
}


@pytest.mark.parametrize("family", ADVERSARIES)
@pytest.mark.parametrize("need", [7, 500, 12_345, 10**6, 10**12])
def test_any_need_is_covered_and_no_dearer_than_one_offer_alone(family: str, need: int) -> None:
    offers = offers_of(ADVERSARIES[family])
    price = found(offers, need)[0]
    for offer in offers:
        packs = max(offer.from_packs, -(-need // offer.pack_quantity))
        assert price <= packs * open_price(offers, offer.pack_quantity, packs)


def by_exact_totals(offers: Offers, need: int) -> Ranking:
    """Rank the best set by what can be held exactly, one more at a time (no price opens late)."""
    sizes = sizes_of(offers)
    prices = [int(open_price(offers, size, 1) * 10**6) for size in sizes]
    nothing = (0, 0, *(0 for _ in sizes))
    held: list[tuple[int, ...] | None] = [nothing]
    for total in range(1, need + max(sizes)):
        best = None
        for place, (size, price) in enumerate(zip(sizes, prices, strict=True)):
            before = held[total - size] if total >= size else None
            if before is not None:
                more = list(before)
                more[0] += price
                more[1] += 1
                more[2 + place] -= 1
                best = min(best or tuple(more), tuple(more))
        held.append(best)
    return min(
        (Decimal(each[0]) / 10**6, total - need, each[1], each[2:])
        for total, each in enumerate(held[need:], start=need)
        if each is not None
    )


@pytest.mark.parametrize("family", ["even sizes only", "ratios a hair apart"])
@pytest.mark.parametrize("need", [9_999, 19_930, 54_321, 99_991])
def test_large_packs_of_nearly_equal_value_are_covered_exactly(family: str, need: int) -> None:
    offers = offers_of(ADVERSARIES[family])
    assert found(offers, need) == by_exact_totals(offers, need)


def lines_run(offers: Offers, need: int) -> int:
    """Count the lines of the search that run for a need: the same number every time."""
    lines = 0

    def each_line(_: FrameType, event: str, __: Any) -> Any:
        nonlocal lines
        lines += event == "line"
        return each_line

    before = sys.gettrace()
    sys.settrace(
        lambda frame, *_: each_line if frame.f_code.co_filename == cover.__file__ else None
    )
    try:
        cheapest_packs(offers, need)
    finally:
        sys.settrace(before)
    return lines


@pytest.mark.parametrize("family", ADVERSARIES)
@pytest.mark.parametrize("need", [10**6 + 1, 10**9 + 1, 10**12 + 1])
def test_the_work_is_bounded_by_the_sizes_whatever_the_need(family: str, need: int) -> None:
    # No other test may ask for these needs: a cover that is remembered takes no work.
    offers = offers_of(ADVERSARIES[family])
    assert 40 < lines_run(offers, need) < 50 * len(offers) * max(sizes_of(offers)) + 1000

"""Exact covers of whole packs, against number theory and an independent solver.

The solver is scipy.optimize.milp (HiGHS) on a model of its own: for each offer a whole number of
packs and a switch, at most one switch on for each size. Prices are whole cents, so that the
cost of its packs, counted in whole numbers, is exact, and its bound tells that nothing is below.
"""

import math
import random
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import NamedTuple

import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from gramhour_service.calculation.cover import Packs, cheapest_packs
from gramhour_service.calculation.job import PackOffer


class Offer(NamedTuple):
    """A pack: what it holds, its price in cents, from how many packs that holds."""

    size: int
    cents: int
    from_packs: int = 1


def bought(offers: Sequence[Offer], need: int) -> tuple[Packs, ...]:
    """Ask for the cover of ours."""
    sold = tuple(PackOffer(o.size, Decimal(o.cents) / 100, o.from_packs) for o in offers)
    return cheapest_packs(sold, need)


def held(packs: Sequence[Packs]) -> int:
    return sum(each.pack_quantity * each.packs for each in packs)


def cents_for(offers: Sequence[Offer], packs: Sequence[Packs]) -> int:
    """Add up packs at the lowest price that is open to their number."""
    return sum(
        each.packs
        * min(
            o.cents for o in offers if o.size == each.pack_quantity and o.from_packs <= each.packs
        )
        for each in packs
    )


class Rows:
    """Rows of a linear model over packs and switches, each between two bounds."""

    def __init__(self, offers: Sequence[Offer], need: int) -> None:
        self.offers = offers
        self.rows: list[list[int]] = []
        self.least: list[float] = []
        self.most: list[float] = []
        self.add(lambda o: o.size, least=need)
        for place, offer in enumerate(offers):
            enough = max(offer.from_packs, -(-need // offer.size))
            self.add_switched(place, offer.from_packs, least=0)
            self.add_switched(place, enough, most=0)
        for size in {offer.size for offer in offers}:
            switches = [int(offer.size == size) for offer in offers]
            self._add([0] * len(offers) + switches, most=1)

    def add(self, of: Callable[[Offer], int], least: float = 0, most: float = math.inf) -> None:
        """Bound what all packs come to."""
        self._add([of(o) for o in self.offers] + [0] * len(self.offers), least, most)

    def add_switched(
        self, place: int, packs: int, least: float = -math.inf, most: float = math.inf
    ) -> None:
        """Bound an offer's packs less so many where it is switched on."""
        row = [0] * (2 * len(self.offers))
        row[place], row[len(self.offers) + place] = 1, -packs
        self._add(row, least, most)

    def _add(self, row: list[int], least: float = -math.inf, most: float = math.inf) -> None:
        self.rows.append(row)
        self.least.append(least)
        self.most.append(most)

    def least_of(self, of: Callable[[Offer], int]) -> int:
        """Minimise what all packs come to; exact, for packs are counted in whole numbers."""
        count = len(self.offers)
        found = milp(
            [of(o) for o in self.offers] + [0] * count,
            integrality=[1] * (2 * count),
            bounds=Bounds([0] * (2 * count), [math.inf] * count + [1] * count),
            constraints=LinearConstraint(self.rows, self.least, self.most),
            options={"mip_rel_gap": 0},
        )
        assert found.status == 0
        packs = [round(each) for each in found.x[:count]]
        total: int = sum(n * of(o) for n, o in zip(packs, self.offers, strict=True))
        assert total - found.mip_dual_bound < 0.5
        return total

    def settle(self, of: Callable[[Offer], int]) -> int:
        """Minimise what all packs come to, and let it stay so from now on."""
        least = self.least_of(of)
        self.add(of, least=-math.inf, most=least)
        return least


def fewer_of(size: int) -> Callable[[Offer], int]:
    return lambda offer: -1 if offer.size == size else 0


def drawn_offers(draws: random.Random, sizes: Sequence[int], often_tiered: float) -> list[Offer]:
    """Draw a price for each size, often with a second one from some packs on, in any order."""
    offers = []
    for size in sizes:
        cents = size * draws.randint(30, 60) + draws.randint(0, 40)
        offers.append(Offer(size, cents))
        if draws.random() < often_tiered:
            offers.append(Offer(size, cents * draws.randint(60, 98) // 100, draws.randint(2, 12)))
    draws.shuffle(offers)
    return offers


SIZES = (1, 2, 3, 5, 6, 7, 10, 12, 20, 25, 50, 100)


@pytest.mark.parametrize("seed", range(200))
def test_no_solver_finds_a_cheaper_cover(seed: int) -> None:
    draws = random.Random(seed)
    offers = drawn_offers(draws, draws.sample(SIZES, draws.randint(2, 4)), often_tiered=0.7)
    need = draws.randint(1, 400)
    packs = bought(offers, need)
    assert held(packs) >= need
    assert cents_for(offers, packs) == Rows(offers, need).least_of(lambda o: o.cents)


@pytest.mark.parametrize("seed", range(60))
def test_of_equally_cheap_covers_the_one_that_is_defined_counts(seed: int) -> None:
    # Prices by the piece, so that most covers have many rivals; ties are broken by solving again:
    # least left over, fewest packs, most of the size named first, of the one named second.
    draws = random.Random(1_000 + seed)
    offers = [Offer(size, 10 * size) for size in draws.sample(SIZES[1:], 3)]
    offers.append(Offer(offers[0].size, 9 * offers[0].size, draws.randint(2, 6)))
    need = draws.randint(1, 120)
    model = Rows(offers, need)
    model.settle(lambda o: o.cents)
    model.settle(lambda o: o.size)
    model.settle(lambda _: 1)
    sizes = list(dict.fromkeys(offer.size for offer in offers))
    counts = {size: -model.settle(fewer_of(size)) for size in sizes}
    assert {each.pack_quantity: each.packs for each in bought(offers, need)} == {
        size: packs for size, packs in counts.items() if packs
    }


@pytest.mark.parametrize("need", [7, 500, 10**6])
@pytest.mark.parametrize("seed", range(8))
def test_large_packs_and_needs_are_covered_exactly_too(seed: int, need: int) -> None:
    # Eight offers: four sizes up to 10,000 of two prices each, within some per cent of each other.
    draws = random.Random(2_000 + seed)
    offers = []
    for size in draws.sample(range(50, 10_001), 4):
        cents = size * draws.randint(200, 210) // 100
        offers.append(Offer(size, cents))
        offers.append(Offer(size, cents * draws.randint(90, 98) // 100, draws.randint(2, 30)))
    packs = bought(offers, need)
    assert held(packs) >= need
    assert cents_for(offers, packs) == Rows(offers, need).least_of(lambda o: o.cents)


@pytest.mark.parametrize(
    ("sizes", "largest_without"),
    [
        # Wolfram MathWorld, "Frobenius Number": 23 for 4 and 9; 43 for 6, 9 and 20.
        ((4, 9), 23),
        ((6, 9, 20), 43),
        # Sylvester (1884), a·b − a − b, worked in a blog on the coin problem ("Froebenius Coin
        # Problem", 28/11/19): 9665 for 19 and 538.
        ((19, 538), 9_665),
    ],
    ids=["4 and 9", "6, 9 and 20", "19 and 538"],
)
def test_the_frobenius_number_is_the_last_need_with_something_left_over(
    sizes: tuple[int, ...], largest_without: int
) -> None:
    # At one price by the piece the cheapest cover is the one that leaves least over.
    offers = [Offer(size, size) for size in sizes]
    assert held(bought(offers, largest_without)) > largest_without
    # Once as many needs as the smallest size are met exactly, all further ones are.
    following = range(largest_without + 1, largest_without + 1 + min(sizes))
    assert [held(bought(offers, need)) for need in following] == list(following)


@pytest.mark.parametrize(
    ("need", "packs"),
    [
        (44, {6: 1, 9: 2, 20: 1}),
        (45, {9: 5}),
        (46, {6: 1, 20: 2}),
        (47, {9: 3, 20: 1}),
        (48, {6: 2, 9: 4}),
        (49, {9: 1, 20: 2}),
    ],
)
def test_needs_beyond_43_are_met_by_the_published_packs(need: int, packs: dict[int, int]) -> None:
    # mathhelpboards.com, "Problem of the Week 53" (2013): how 44 to 49 are made of 6, 9 and 20.
    cover = bought([Offer(20, 20), Offer(9, 9), Offer(6, 6)], need)
    assert {each.pack_quantity: each.packs for each in cover} == packs

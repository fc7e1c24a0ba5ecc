"""The sets of packs that stand in a workbook hold the cheapest cover for any price and any need."""

from decimal import Decimal
from random import Random

from gramhour_service.calculation.cover import cheapest_packs, open_price
from gramhour_service.calculation.job import Offers, PackOffer
from gramhour_service.workbook.pack_sets import PackSet, every_set, sets_nearby

SIZES = (1, 2, 3, 4, 5, 6, 10, 12, 20, 25)


def drawn_offers(random: Random) -> Offers:
    return tuple(
        PackOffer(random.choice(SIZES), Decimal(random.randint(1, 60)), random.choice([1, 1, 2, 5]))
        for _ in range(random.choice([1, 2, 2, 3, 4]))
    )


def cost_and_held(offers: Offers, tried: PackSet, need: int) -> tuple[Decimal, int]:
    """Say what a set costs and holds, as its cells do."""
    fixed = [(offers[place], packs) for place, packs in tried.fixed]
    held = sum(offer.pack_quantity * packs for offer, packs in fixed)
    base = offers[tried.filled_by]
    filling = max(base.from_packs, -(-(need - held) // base.pack_quantity))
    cost = sum([offer.price * packs for offer, packs in fixed], filling * base.price)
    return cost, held + filling * base.pack_quantity


def exact(offers: Offers, need: int) -> tuple[Decimal, int]:
    packs = cheapest_packs(offers, need)
    cost = sum(each.packs * open_price(offers, each.pack_quantity, each.packs) for each in packs)
    return Decimal(cost), sum(each.packs * each.pack_quantity for each in packs)


def test_where_every_set_stands_the_cheapest_is_exact_for_other_prices_and_needs() -> None:
    random, exact_ones = Random(8), 0
    for _ in range(400):
        offers = drawn_offers(random)
        tried = every_set(offers)
        if tried is None:
            continue
        exact_ones += 1
        for need in random.sample(range(1, 200), 5):
            dearer = tuple(each._replace(price=Decimal(random.randint(1, 60))) for each in offers)
            found = min(cost_and_held(dearer, each, need) for each in tried)
            assert found == exact(dearer, need), (dearer, need)
    assert exact_ones > 200


def test_where_sets_are_too_many_the_present_cover_stands_among_those_nearby() -> None:
    random, many = Random(9), 0
    for _ in range(400):
        offers, need = drawn_offers(random), random.randint(1, 200)
        if every_set(offers) is None:
            many += 1
            found = min(cost_and_held(offers, each, need) for each in sets_nearby(offers, need))
            assert found == exact(offers, need), (offers, need)
    assert many > 20


def test_packs_of_ten_and_fifty_need_five_sets_and_one() -> None:
    offers = (PackOffer(10, Decimal(5), 1), PackOffer(50, Decimal(20), 1))
    tens_alone, *with_fifties = (
        [PackSet((), 0)],
        PackSet((), 1),
        *[PackSet(((0, n),), 1) for n in range(1, 5)],
    )
    assert every_set(offers) == (*tens_alone, *with_fifties)

"""Covers of packs in cells: the sets of packs that can be the cheapest, each with its cost.

Which set is cheapest is a search, and a search is no formula. So sets stand in the workbook
(``pack_sets``): packs that are fixed in number, and packs of one offer that fill what is left. The
cheapest one counts. Where not all sets can stand there, an edit of what the search saw is pointed
out.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.job import Offers, PackOffer
from gramhour_service.workbook.figures import Figure, formula, in_its_cell, named, plain, rely
from gramhour_service.workbook.layout import in_words
from gramhour_service.workbook.pack_sets import PackSet, every_set, sets_nearby

TOO_DEAR = "9E+99"
MOST_CHOICES = 25
"""A call of CHOOSE takes no more than 30 (OpenFormula 6.14.3 names no bound; offices have one)."""

MOST_PACKS = 10_000_000
"""Sets rank by what they hold, and by their packs as a fraction of so many."""


class Cover(NamedTuple):
    """What one set of packs costs and holds, and what it is made of: ``filling`` packs fill it."""

    cost: Decimal
    held: Decimal
    filling: Decimal
    fixed: dict[int, int]
    filled_by: int

    @property
    def fixed_packs(self) -> int:
        """Count the packs that are fixed in number."""
        return sum(self.fixed.values())

    def packs_of(self, size: int) -> Decimal:
        """Say how many packs of a size there are."""
        return self.filling if size == self.filled_by else Decimal(self.fixed.get(size, 0))


def whole_offers(offers: Offers) -> Offers:
    """Give offers as the calculation has them: whole numbers and plain prices."""
    return tuple(
        PackOffer(int(plain(size)), plain(price), int(plain(start)))
        for size, price, start in offers
    )


def covers(offers: Offers, need: Decimal, code: str) -> list[Cover]:
    """Write each set that can be the cheapest cover of a need."""
    now, wanted = whole_offers(offers), int(plain(need))
    need = in_its_cell(need, f"needed of {code}")
    tried = every_set(now)
    _rely_on_offers(offers)
    if tried is None:
        tried = sets_nearby(now, wanted)
        _rely_on_search(offers, need)
    return [_row(offers, now, each, need, wanted, code) for each in tried]


def cheapest(rows: Sequence[Cover], code: str) -> Decimal:
    """Take the least cost of some sets."""
    if len(rows) == 1:
        return rows[0].cost
    least = min(plain(row.cost) for row in rows)
    cost = _listed("MIN", [row.cost for row in rows], least)
    named(cost, f"cheapest packs of {code}")
    return cost


def held_by_cheapest(rows: Sequence[Cover], cost: Decimal) -> Decimal:
    """Of equally cheap sets the one with least left over counts."""
    if len(rows) == 1:
        return rows[0].held
    held = [plain(row.held) for row in rows if plain(row.cost) == plain(cost)]
    each = f"IF(ROUND({{cost}}-{{least}};9)=0;{{held}};{TOO_DEAR})"
    return _of_each(rows, each, min(held), cost)


def chosen_set(rows: Sequence[Cover], cost: Decimal, code: str) -> Decimal:
    """Say which set is bought: of the cheapest that with least left over, then of fewest packs."""
    if len(rows) == 1:
        return Decimal(1)
    ranks = [
        plain(row.held) + (plain(row.filling) + row.fixed_packs) / MOST_PACKS
        if plain(row.cost) == plain(cost)
        else Decimal(TOO_DEAR)
        for row in rows
    ]
    ranked = f"{{held}}+({{filling}}+{{fixed}})/{MOST_PACKS}"
    rank = f"IF(ROUND({{cost}}-{{least}};9)=0;{ranked};{TOO_DEAR})"
    best = _of_each(rows, rank, min(ranks), cost)
    named(best, f"least left over, then fewest packs, of {code}")
    place = f"IF({rank}={{best}};{{number}};{len(rows)})"
    number = Decimal(ranks.index(min(ranks)) + 1)
    which = _of_each(rows, place, number, cost, best)
    named(which, f"which set of packs of {code}")
    return which


def of_set(rows: Sequence[Cover], which: Decimal, amounts: Sequence[Decimal]) -> Decimal:
    """Take the amount of the set that is bought."""
    if len(rows) == 1:
        return amounts[0]
    holders = [f"{{{n}}}" for n in range(1, len(rows) + 1)]
    parts = [holders[at : at + MOST_CHOICES] for at in range(0, len(holders), MOST_CHOICES)]
    text = f"CHOOSE({{0}};{';'.join(parts[0])})"
    if len(parts) > 1:
        chosen = f"MOD({{0}}-1;{MOST_CHOICES})+1"
        each = [f"CHOOSE({chosen};{';'.join(part)})" for part in parts]
        text = f"CHOOSE(INT(({{0}}-1)/{MOST_CHOICES})+1;{';'.join(each)})"
    return formula(text, plain(amounts[int(plain(which)) - 1]), which, *amounts)


def _of_each(rows: Sequence[Cover], each: str, value: Decimal, *shared: Decimal) -> Figure:
    """Write the least of what a formula gives of each set, in one cell.

    ``shared`` are the least cost and the best rank.
    """
    parts, operands = [], list(shared)
    each = each.replace("{least}", "{0}").replace("{best}", "{1}")
    for n, row in enumerate(rows, 1):
        at = len(operands)
        parts.append(
            each.replace("{cost}", f"{{{at}}}")
            .replace("{held}", f"{{{at + 1}}}")
            .replace("{filling}", f"{{{at + 2}}}")
            .replace("{fixed}", str(row.fixed_packs))
            .replace("{number}", str(n))
        )
        operands += [row.cost, row.held, row.filling]
    return formula(f"MIN({';'.join(parts)})", value, *operands)


def _rely_on_offers(offers: Offers) -> None:
    """Note that the sets were made for these sizes, and for what opens these prices."""
    fixed = [amount for size, _, start in offers for amount in (size, start)]
    _rely_on_all(fixed if len(offers) > 1 else [])


def _rely_on_search(offers: Offers, need: Decimal) -> None:
    """Note that the sets were looked for at these prices and this need."""
    _rely_on_all([*[offer.price for offer in offers], need])


def _rely_on_all(seen: Sequence[Decimal | int]) -> None:
    for each in seen:
        name = in_words(each) if isinstance(each, Figure) else "it"
        says = f"{name} stays {plain(each).normalize():f}: packs were compared for it"
        rely("=", each, plain(each), outcome=True, says=says)


def _listed(name: str, amounts: Sequence[Decimal], value: Decimal) -> Figure:
    holders = ";".join(f"{{{n}}}" for n in range(len(amounts)))
    return formula(f"{name}({holders})", value, *amounts)


def _row(
    offers: Offers, now: Offers, tried: PackSet, need: Decimal, wanted: int, code: str
) -> Cover:
    """Write what one set costs and holds."""
    size, price, start = offers[tried.filled_by]
    size_now, _, start_now = now[tried.filled_by]
    fixed = {now[place].pack_quantity: packs for place, packs in tried.fixed}
    bought = [f"{packs} of {of}" for of, packs in fixed.items()]
    label = f"{code}: " + " and ".join([*bought, f"the rest of {size_now}"])
    cost, held = ZERO, ZERO
    for place, packs in tried.fixed:
        cost, held = cost + packs * offers[place].price, held + packs * offers[place].pack_quantity
    left = max(0, wanted - int(plain(held)))
    filling = formula(
        "MAX({0};ROUNDUP(({1}-{2})/{3};0))", max(start_now, -(-left // size_now)),
        start, need, held, size,
    )  # fmt: skip
    filling = named(filling, f"{label}, which is so many")
    cost = cost + filling * price
    return Cover(
        cost=named(if_needed(need, cost), f"{label}, cost"),
        held=held + filling * size,
        filling=filling,
        fixed=fixed,
        filled_by=size_now,
    )


def if_needed(need: Decimal, amount: Decimal) -> Decimal:
    """Take an amount, or nothing where nothing is needed."""
    return formula("IF({0}=0;0;{1})", plain(amount) if plain(need) else ZERO, need, amount)

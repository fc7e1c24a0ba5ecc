"""Listings sorted by what they are made and sold like; what is like nothing else is left."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np

from gramhour.contract.problem import Refused
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.calculation.job import Product
from gramhour_service.repricing.alike.lines import ToPrice, figures_alike, lines_alike
from gramhour_service.repricing.alike.products import likeness
from gramhour_service.repricing.alike.sold import MadeAlike, SoldAlike
from gramhour_service.repricing.effects import looked_at_too
from gramhour_service.repricing.evaluating import Makings, made_as
from gramhour_service.repricing.lines import Line, line_of
from gramhour_service.repricing.selling import Selling

T = TypeVar("T")
FEWEST = 12
"""Fewer listings that are alike are priced sooner one by one."""
MOST_SHEETS = 10
"""What more rates moved than that is looked at one by one: each is another sheet."""
FLOATS: tuple[Any, ...] = (np.float64, np.longdouble)
"""Floats to compute in: what the first leave open is tried with the next."""
Policy = tuple[Selling, Hashable]
"""How listings are sold, and what else they must have alike."""


class Group:
    """What is made alike: products by name, and the listings of each policy that sells them."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self.products: dict[Hashable, Product] = {}
        self.listings: dict[Policy, list[int]] = defaultdict(list)

    def of(self, listings: dict[Policy, list[int]]) -> "Group":
        """Take some of its listings."""
        part = Group()
        part.products, part.listings = self.products, listings
        return part


class Asked(NamedTuple, Generic[T]):
    """What is worked out of listings that are alike, and what else these must have alike.

    That is nothing for one which has to be looked at by itself.
    """

    of_all: Callable[[Sequence[ToPrice], SoldAlike], list[T | None]]
    apart: Callable[[ToPrice, Selling], Hashable]
    fewest: int


def lines_of(items: Sequence[ToPrice], makings: Makings, fewest: int = FEWEST) -> list[Line]:
    """Price listings anew: those that are alike at once, the others one by one."""
    asked = Asked(lines_alike, _with_same_breaks, fewest)
    by_others = _by_other_sheets(items)
    try:
        with costing_arithmetic():
            for other, listings in by_others.items():
                _note_figures(items, listings, other, fewest)
            lines = _at_once(items, range(len(items)), makings, asked)
        return [
            lines[n] if n in lines else line_of(item.offered, makings, item.listed)
            for n, item in enumerate(items)
        ]
    finally:  # they are of these descriptions, and the makings go on
        for other in by_others:
            other.noted.clear()


def _with_same_breaks(item: ToPrice, selling: Selling) -> Hashable:
    """Tell listings without a price from those with one; one with other breaks than now is left."""
    if item.listed is None:
        return "new"
    return "listed" if item.listed.quantities == selling.job.breaks else None


def _by_other_sheets(items: Sequence[ToPrice]) -> dict[Makings, list[int]]:
    """Name the listings that are looked at by other sheets too, to split what moved them."""
    by_sheets: dict[Makings, list[int]] = defaultdict(list)
    for n, item in enumerate(items):
        if item.listed is None:
            continue
        is_as_described, moved = item.listed.is_as_described, item.listed.moved
        if len(moved.used_by(item.offered)) <= MOST_SHEETS:
            for other in looked_at_too(item.offered, moved, is_as_described=is_as_described):
                by_sheets[other].append(n)
    return by_sheets


def _note_figures(
    items: Sequence[ToPrice], listings: Iterable[int], makings: Makings, fewest: int
) -> None:
    """Work out figures by another sheet for those who ask for them one by one."""

    def quantities(item: ToPrice, _: Selling) -> Hashable:
        return None if item.listed is None else item.listed.quantities

    found = _at_once(items, listings, makings, Asked(figures_alike, quantities, fewest))
    for n, figures in found.items():
        listed = items[n].listed
        if listed is not None:
            makings.noted[items[n].offered.sku, listed.quantities] = figures


def _at_once(
    items: Sequence[ToPrice], listings: Iterable[int], makings: Makings, asked: Asked[T]
) -> dict[int, T]:
    """Work out what is asked of those of some listings that are alike."""
    found: dict[int, T] = {}
    for group in _sorted(items, listings, makings, asked).values():
        found |= _of_group(items, group, makings, asked)
    return found


def _sorted(
    items: Sequence[ToPrice], listings: Iterable[int], makings: Makings, asked: Asked[T]
) -> dict[Hashable, Group]:
    """Sort listings by what they are alike in; leave out those that have to be priced apart."""
    groups: dict[Hashable, Group] = defaultdict(Group)
    alike: dict[Hashable, tuple[Hashable, Product]] = {}
    for n in listings:
        offered = items[n].offered
        if not makings.can_price(offered):
            continue
        name = made_as(offered)
        try:
            selling = makings.selling(offered.listing)
            if name not in alike:
                product = makings.product(offered)
                alike[name] = likeness(product), product
        except Refused:  # told of each by itself
            continue
        like, product = alike[name]
        apart = asked.apart(items[n], selling)
        if like is not None and apart is not None:
            groups[like].products[name] = product
            groups[like].listings[selling, apart].append(n)
    return groups


def _of_group(
    items: Sequence[ToPrice],
    group: Group,
    makings: Makings,
    asked: Asked[T],
    dtypes: tuple[Any, ...] = FLOATS,
) -> dict[int, T]:
    """Work out what is made alike; what floats leave open is tried with finer ones, then left."""
    policies = {
        policy: each for policy, each in group.listings.items() if len(each) >= asked.fewest
    }
    if not dtypes or not policies:
        return {}
    used = dict.fromkeys(made_as(items[n].offered) for each in policies.values() for n in each)
    places = {name: place for place, name in enumerate(used)}
    made = MadeAlike([group.products[name] for name in used], makings, dtypes[0])
    found: dict[int, T] = {}
    for (selling, _), listings in policies.items():
        alike = [items[n] for n in listings]
        of_each = np.array([places[made_as(item.offered)] for item in alike], np.intp)
        try:
            told = asked.of_all(alike, SoldAlike(selling, made, of_each))
        except CannotBePriced:  # told of each by itself
            continue
        found |= {n: each for n, each in zip(listings, told, strict=True) if each is not None}
    left = {policy: [n for n in each if n not in found] for policy, each in policies.items()}
    return found | _of_group(items, group.of(left), makings, asked, dtypes[1:])

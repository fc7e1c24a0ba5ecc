"""Listings sorted by what they are made and sold like; what is like nothing else is left."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np

from gramhour.contract.problem import Refused
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.calculation.job import Product
from gramhour_service.repricing.alike.columns import ToPrice, are_told_with
from gramhour_service.repricing.alike.lines import figures_alike, lines_alike
from gramhour_service.repricing.alike.products import likeness
from gramhour_service.repricing.alike.sold import MadeAlike, SoldAlike
from gramhour_service.repricing.effects import looked_at_too
from gramhour_service.repricing.evaluating import Makings, made_as
from gramhour_service.repricing.lines import line_of
from gramhour_service.repricing.reported import Reported, reported
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


class Alike(NamedTuple):
    """A listing by its place among all, and its product by its place in the group."""

    listing: int
    product: int


class Group(NamedTuple):
    """What is made alike: products, and the listings of each policy that sells them."""

    products: list[Product]
    listings: dict[Policy, list[Alike]]


class Asked(NamedTuple, Generic[T]):
    """What is worked out of listings that are alike, and what else these must have alike.

    That is nothing for one which has to be looked at by itself.
    """

    of_all: Callable[[Sequence[ToPrice], SoldAlike], list[T | None]]
    apart: Callable[[ToPrice, Selling], Hashable]
    fewest: int


def lines_of(items: Sequence[ToPrice], makings: Makings, fewest: int = FEWEST) -> list[Reported]:
    """Price listings anew: those that are alike at once, the others one by one."""
    asked = Asked(lines_alike, _with_same_breaks, fewest)
    by_others = _by_other_sheets(items)
    try:
        with costing_arithmetic():
            for other, listings in by_others.items():
                _note_figures(items, listings, other, fewest)
            lines = _at_once(items, range(len(items)), makings, asked)
        return [
            lines[n] if n in lines else reported(line_of(item.offered, makings, item.listed))
            for n, item in enumerate(items)
        ]
    finally:  # they are of these descriptions, and the makings go on
        for other in by_others:
            other.noted.clear()


def _with_same_breaks(item: ToPrice, selling: Selling) -> Hashable:
    """Tell listings without a price from those with one.

    One with other breaks than now, or of another currency's decimals, is left.
    """
    if item.listed is None:
        return "new"
    if item.listed.quantities != selling.job.breaks:
        return None
    digits = selling.job.rates.minor_digits
    return "listed" if are_told_with(item.listed.breaks, digits) else None


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
    for group in _sorted(items, listings, makings, asked):
        found |= _of_group(items, group, makings, asked)
    return found


def _sorted(
    items: Sequence[ToPrice], listings: Iterable[int], makings: Makings, asked: Asked[T]
) -> Iterable[Group]:
    """Sort listings by what they are alike in; leave out those that have to be priced apart."""
    groups: dict[Hashable, Group] = {}
    made: dict[Hashable, tuple[Group, int] | None] = {}
    for n in listings:
        offered = items[n].offered
        if not makings.can_price(offered):
            continue
        name = made_as(offered)
        try:
            selling = makings.selling(offered.listing)
            if name not in made:
                made[name] = _grouped(makings.product(offered), groups)
        except (Refused, CannotBePriced):  # told of each by itself
            continue
        apart, place = asked.apart(items[n], selling), made[name]
        if place is not None and apart is not None:
            place[0].listings[selling, apart].append(Alike(n, place[1]))
    return groups.values()


def _grouped(product: Product, groups: dict[Hashable, Group]) -> tuple[Group, int] | None:
    """Put a product into the group of those that it is made like, and say where."""
    like = likeness(product)
    if like is None:
        return None
    group = groups.get(like)
    if group is None:
        group = groups[like] = Group([], defaultdict(list))
    group.products.append(product)
    return group, len(group.products) - 1


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
    used = dict.fromkeys(each.product for listings in policies.values() for each in listings)
    places = {product: place for place, product in enumerate(used)}
    found: dict[int, T] = {}
    try:
        made = MadeAlike([group.products[n] for n in used], makings, dtypes[0])
    except CannotBePriced:  # told of each by itself
        return {}
    for (selling, _), listings in policies.items():
        of_each = np.array([places[each.product] for each in listings], np.intp)
        try:
            told = asked.of_all(
                [items[each.listing] for each in listings], SoldAlike(selling, made, of_each)
            )
        except CannotBePriced:
            continue
        found |= {
            each.listing: line
            for each, line in zip(listings, told, strict=True)
            if line is not None
        }
    left = {
        policy: [each for each in listings if each.listing not in found]
        for policy, listings in policies.items()
    }
    return found | _of_group(items, group._replace(listings=left), makings, asked, dtypes[1:])

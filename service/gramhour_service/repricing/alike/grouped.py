"""Listings sorted by what they are made and sold like; what is like nothing else is left."""

from collections import defaultdict
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np

from gramhour.contract.problem import Refused
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.calculation.job import Product
from gramhour_service.repricing.alike.lines import ToPrice, lines_alike
from gramhour_service.repricing.alike.products import likeness
from gramhour_service.repricing.alike.sold import MadeAlike, SoldAlike
from gramhour_service.repricing.evaluating import Makings, made_as
from gramhour_service.repricing.lines import Line, line_of
from gramhour_service.repricing.selling import Selling

FEWEST = 12
"""Fewer listings that are alike are priced sooner one by one."""
FLOATS: tuple[Any, ...] = (np.float64, np.longdouble)
"""Floats to compute in: what the first leave open is tried with the next."""
Policy = tuple[Selling, bool]
"""How listings are sold; apart those that have no price yet."""


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


def lines_of(items: Sequence[ToPrice], makings: Makings, fewest: int = FEWEST) -> list[Line]:
    """Price listings anew: those that are alike at once, the others one by one."""
    lines: dict[int, Line] = {}
    with costing_arithmetic():
        for group in _sorted(items, makings).values():
            lines |= _at_once(items, group, makings, fewest)
    return [
        lines[n] if n in lines else line_of(item.offered, makings, item.listed)
        for n, item in enumerate(items)
    ]


def _sorted(items: Sequence[ToPrice], makings: Makings) -> dict[Hashable, Group]:
    """Sort listings by what they are alike in; leave out those that have to be priced apart."""
    groups: dict[Hashable, Group] = defaultdict(Group)
    alike: dict[Hashable, tuple[Hashable, Product]] = {}
    for n, item in enumerate(items):
        if not makings.can_price(item.offered):
            continue
        name = made_as(item.offered)
        try:
            selling = makings.selling(item.offered.listing)
            if name not in alike:
                product = makings.product(item.offered)
                alike[name] = likeness(product), product
        except Refused:  # told of each by itself
            continue
        like, product = alike[name]
        if like is not None and _moves_simply(item, selling):
            groups[like].products[name] = product
            groups[like].listings[selling, item.listed is None].append(n)
    return groups


def _moves_simply(item: ToPrice, selling: Selling) -> bool:
    """Say whether what moved a price is known from the listed one and the new one."""
    listed = item.listed
    if listed is None:
        return True
    return (
        listed.is_as_described
        and tuple([each.from_quantity for each in listed.breaks]) == selling.job.breaks
        and len(listed.moved.used_by(item.offered)) <= 1
    )


def _at_once(
    items: Sequence[ToPrice],
    group: Group,
    makings: Makings,
    fewest: int,
    dtypes: tuple[Any, ...] = FLOATS,
) -> dict[int, Line]:
    """Price what is made alike; what floats leave open is tried with finer ones, then left."""
    policies = {policy: each for policy, each in group.listings.items() if len(each) >= fewest}
    if not dtypes or not policies:
        return {}
    used = dict.fromkeys(made_as(items[n].offered) for each in policies.values() for n in each)
    places = {name: place for place, name in enumerate(used)}
    made = MadeAlike([group.products[name] for name in used], makings, dtypes[0])
    lines: dict[int, Line] = {}
    for (selling, _), listings in policies.items():
        priced = [items[n] for n in listings]
        of_each = np.array([places[made_as(item.offered)] for item in priced], np.intp)
        try:
            told = lines_alike(priced, SoldAlike(selling, made, of_each))
        except CannotBePriced:  # told of each by itself
            continue
        lines |= {n: line for n, line in zip(listings, told, strict=True) if line is not None}
    left = {policy: [n for n in each if n not in lines] for policy, each in policies.items()}
    return lines | _at_once(items, group.of(left), makings, fewest, dtypes[1:])

"""Listings sorted by what they are made and sold like; what is like nothing else is left."""

from collections import defaultdict
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np

from gramhour.contract.problem import Refused
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.repricing.alike.lines import ToPrice, lines_alike
from gramhour_service.repricing.alike.products import likeness
from gramhour_service.repricing.alike.sold import MadeAlike, SoldAlike
from gramhour_service.repricing.evaluating import Makings, can_price, made_as
from gramhour_service.repricing.lines import Line, line_of
from gramhour_service.repricing.selling import Selling

FEWEST = 12
"""Fewer listings that are alike are priced sooner one by one."""
FLOATS: tuple[Any, ...] = (np.float64, np.longdouble)
"""Floats to compute in: what the first leave open is tried with the next."""

Group = dict[tuple[Selling, bool], list[int]]
"""What is made alike: the listings of each policy that sells it, apart if they have no price."""


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
    groups: dict[Hashable, Group] = defaultdict(lambda: defaultdict(list))
    for n, item in enumerate(items):
        if not can_price(item.offered, makings.target):
            continue
        try:
            selling = makings.selling(item.offered.listing)
            alike = likeness(makings.product(item.offered))
        except Refused:
            continue
        if alike is not None and _moves_simply(item, selling):
            groups[alike][selling, item.listed is None].append(n)
    return groups


def _moves_simply(item: ToPrice, selling: Selling) -> bool:
    """Say whether what moved a price is known from the listed one and the new one."""
    listed = item.listed
    if listed is None:
        return True
    return (
        listed.is_as_described
        and [each.from_quantity for each in listed.breaks] == list(selling.job.breaks)
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
    group = {policy: listings for policy, listings in group.items() if len(listings) >= fewest}
    if not dtypes or not group:
        return {}
    named = {made_as(items[n].offered): n for listings in group.values() for n in listings}
    products = [makings.product(items[n].offered) for n in named.values()]
    made = MadeAlike(products, makings, dtypes[0])
    places = {name: place for place, name in enumerate(named)}
    lines: dict[int, Line] = {}
    for (selling, _), listings in group.items():
        priced = [items[n] for n in listings]
        of_each = np.array([places[made_as(item.offered)] for item in priced], np.intp)
        try:
            told = lines_alike(priced, SoldAlike(selling, made, of_each))
        except CannotBePriced:  # told of each by itself
            continue
        lines |= {n: line for n, line in zip(listings, told, strict=True) if line is not None}
    left = {policy: [n for n in listings if n not in lines] for policy, listings in group.items()}
    return lines | _at_once(items, left, makings, fewest, dtypes[1:])

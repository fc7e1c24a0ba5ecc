"""Evaluates a comparison: every alternative at every quantity, in slices that others wait for."""

from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from msgspec import UnsetType

from gramhour.contract.comparison import Criterion
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.calculation.breaks import Break, costs_at, price_at, priced_at
from gramhour_service.calculation.builds import ProductBuilds, builds_of_product
from gramhour_service.calculation.job import GivenPrice
from gramhour_service.calculation.settle import unit_cost
from gramhour_service.comparing.asked import Sought, Way
from gramhour_service.comparing.purchase import Bought, Gained, gained, without_wear
from gramhour_service.comparing.ready import ready_on

SLICE = 10
"""Evaluations between which others are answered: some two milliseconds."""
SCHEDULING = 10
"""Evaluations that a ready date counts for."""
THE_LOWEST = ("unit_cost", "unit_price")
PRICED_BY_AN_AIM = "/aim"


class At(NamedTuple):
    """An alternative at a quantity: at its own price, and at the market's where one was given."""

    own: Break
    market: Break
    ready_on: date | UnsetType | None


class Best(NamedTuple):
    """Quantities from one to another at which an alternative, by its number, is the best."""

    start: int
    end: int
    number: int | None


class Evaluated(NamedTuple):
    """A comparison worked out: by alternative and quantity, gains where something is bought."""

    at: list[dict[int, At]]
    gains: list[dict[int, Gained]]
    best: list[Best]


Steps = Generator[int, None, Evaluated]
"""Says after each slice how many evaluations are done; returns what came out."""


def evaluations(sought: Sought) -> int:
    """Count what a comparison takes."""
    asked = len(sought.quantities)
    prices = 1 if sought.market_price is None else 2
    bought = sum(way.bought is not None for way in sought.ways)
    scanned = len(sought.ways) * len(sought.scanned)
    scheduled = sum(way.scheduling.is_staffed for way in sought.ways) * asked * SCHEDULING
    return len(sought.ways) * asked * prices + bought * asked + scanned + scheduled


def evaluate(sought: Sought) -> Steps:
    """Evaluate a comparison, slice by slice. Raises ``Refused`` if something has no price."""
    with costing_arithmetic():
        made = [builds_of_product(way.job.product, way.job.rates) for way in sought.ways]
    at: list[dict[int, At]] = [{} for _ in sought.ways]
    gains: list[dict[int, Gained]] = [{} for _ in sought.ways]
    best: list[Best] = []
    done = 0
    work = _work(sought, made, at, gains, best)
    while True:
        with costing_arithmetic():
            steps = _slice(work)
        if not steps:
            return Evaluated(at, gains, best)
        done += steps
        yield done


def _slice(work: Iterator[int]) -> int:
    """Work for a while; say how many evaluations that were, none at the end."""
    steps = 0
    for step in work:
        steps += step
        if steps >= SLICE:
            break
    return steps


def evaluated(sought: Sought, told: Callable[[int], None]) -> Evaluated:
    """Evaluate a comparison to its end; ``told`` hears how many evaluations are done."""
    steps = evaluate(sought)
    while True:
        try:
            told(next(steps))
        except StopIteration as ended:
            result: Evaluated = ended.value
            return result


def _work(
    sought: Sought,
    made: list[ProductBuilds],
    at: list[dict[int, At]],
    gains: list[dict[int, Gained]],
    best: list[Best],
) -> Iterator[int]:
    """Work at a comparison; say after each step how many evaluations it took."""
    for n, way in enumerate(sought.ways):
        for quantity in sought.quantities:
            with _told(n, way, quantity):
                at[n][quantity] = _at(way, made[n], quantity)
            prices = 1 if way.at_market is way.job else 2
            yield prices + (SCHEDULING if way.scheduling.is_staffed else 0)
    for n, way in enumerate(sought.ways):
        if way.bought is not None:
            yield from _gains(n, way, way.bought, at, gains[n])
    for quantity in sought.scanned:
        values = []
        for n, way in enumerate(sought.ways):
            with _told(n, way, quantity):
                values.append(_value_at(way, made[n], quantity, sought.criterion))
            yield 1
        _add(best, quantity, best_of(values, sought.criterion))


@contextmanager
def _told(number: int, way: Way, quantity: int) -> Iterator[None]:
    """Tell which alternative has no price at which quantity."""
    try:
        yield
    except CannotBePriced as error:
        detail = f"'{way.label}' at {quantity}: {error.detail}"
        by_aim = error.pointer == PRICED_BY_AN_AIM
        place = error.pointer if by_aim else pointer("alternatives", number)
        raise Refused("cannot-be-priced", (Fault(place, detail),)) from None


def _at(way: Way, made: ProductBuilds, quantity: int) -> At:
    own = priced_at(way.job, made, quantity)
    market = own if way.at_market is way.job else priced_at(way.at_market, made, quantity)
    return At(own, market, ready_on(way.scheduling, own))


def _gains(
    number: int, way: Way, bought: Bought, at: list[dict[int, At]], gains: dict[int, Gained]
) -> Iterator[int]:
    """Compare with the first alternative at one price: the market's, else that of the first."""
    job = without_wear(way.job, bought)
    made = builds_of_product(job.product, job.rates)
    for quantity, first in at[0].items():
        price = first.market.priced.settled.unit_price
        with _told(number, way, quantity):
            sold = replace(job, aim=GivenPrice(price))
            each = priced_at(sold, made, quantity)
            gains[quantity] = gained(each, first.market, bought)
        yield 1


def _value_at(way: Way, made: ProductBuilds, quantity: int, criterion: Criterion) -> Decimal | None:
    """Say what an alternative is ranked by, and compute no more than that takes."""
    if criterion in THE_LOWEST:
        cost = costs_at(way.job, made, quantity).lines.total
        if criterion == "unit_cost":
            return unit_cost(cost, quantity)
        return price_at(way.job, quantity, cost).settled.unit_price
    return of_market(priced_at(way.at_market, made, quantity), criterion)


def value_of(at: At, criterion: Criterion) -> Decimal | None:
    """Say what an alternative is ranked by, as it is shown."""
    match criterion:
        case "unit_cost":
            return at.own.unit_cost
        case "unit_price":
            return at.own.priced.settled.unit_price
    return of_market(at.market, criterion)


def of_market(each: Break, criterion: Criterion) -> Decimal | None:
    """Say what is ranked of an order at the market's price."""
    match criterion:
        case "margin":
            return each.margin_pct
        case "contribution_per_machine_hour":
            return each.contribution_per_machine_hour
    return each.contribution_per_labour_hour


def ranked(values: Iterable[Decimal | None], criterion: Criterion) -> list[int]:
    """Rank by what is shown, the best first, by number: of equals the one named first.

    The lowest cost or price is the best, else the highest; who has no value comes last.
    """
    sign = 1 if criterion in THE_LOWEST else -1
    keyed = [
        (value is None, 0 if value is None else sign * value, n) for n, value in enumerate(values)
    ]
    return [n for _, _, n in sorted(keyed)]


def best_of(values: list[Decimal | None], criterion: Criterion) -> int | None:
    """Find the best by number; none where no alternative has a value."""
    first = ranked(values, criterion)[0]
    return None if values[first] is None else first


def _add(best: list[Best], quantity: int, number: int | None) -> None:
    """Go on with the last interval, or begin another one."""
    if best and best[-1].number == number:
        best[-1] = best[-1]._replace(end=quantity)
    else:
        best.append(Best(quantity, quantity, number))

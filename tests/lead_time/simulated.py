"""A shop that is watched minute by minute: what an order's lead time must come to.

Written from the agreement's words and from nothing of the calculation. It asks the tz database
what the clock shows at each minute, has every machine count down its minutes, and every person
theirs. Chances are fractions, added up from the binomial distribution's definition.
"""

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from functools import cache, lru_cache
from operator import attrgetter
from typing import NamedTuple
from zoneinfo import ZoneInfo

MINUTE = 60
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True, eq=False)
class Hours:
    """A zone, shifts by weekday as texts, and closed days."""

    zone: str
    shifts: tuple[tuple[str, ...], ...]
    closed: frozenset[date]


@dataclass(frozen=True)
class Kind:
    """So many equal machines, whether they run on alone, and their queues in minutes."""

    count: int
    unattended: bool
    queues: tuple[int, ...]


@dataclass(frozen=True)
class Piece:
    """Printed pieces; minutes of a build with warm-up, and of waiting days for feedstock."""

    kind: str
    minutes: int
    per_build: int
    count: int
    good: Fraction
    waits_days: int


@dataclass(frozen=True)
class Order:
    """An order, whose labour is in whole minutes."""

    hours: Hours
    kinds: dict[str, Kind]
    pieces: tuple[Piece, ...]
    moment: datetime
    quantity: int
    remade: Fraction
    promise: Fraction
    order_min: int
    build_min: int
    unit_min: int
    parts_days: int
    dispatch_days: int


@dataclass
class Machine:
    """A machine as it stands at a minute."""

    kind: str
    unattended: bool
    queue: int
    number: int
    build: Piece | None = None
    left: int = 0
    free_since: int = -1


@dataclass(frozen=True)
class Ready:
    """What came of it. ``starts`` are by machine kind and number: the minutes of its starts."""

    on: date
    at: int
    starts: dict[tuple[str, int], list[int]]
    alone: bool
    chance: Fraction


class Shown(NamedTuple):
    """What the clock and the calendar on the wall show."""

    day: date
    weekday: int
    time: str


@cache
def shown_in(zone: str, minute: int) -> Shown:
    clock = datetime.fromtimestamp(minute * MINUTE, ZoneInfo(zone))
    return Shown(clock.date(), clock.weekday(), f"{clock:%H:%M}")


def shown(hours: Hours, minute: int) -> Shown:
    return shown_in(hours.zone, minute)


@cache
def minutes_of(zone: str, day: date) -> tuple[int, ...]:
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(hours=15)
    first = int(midnight.timestamp()) // MINUTE
    around = range(first, first + 3 * 24 * 60)
    return tuple(minute for minute in around if shown_in(zone, minute).day == day)


@lru_cache(maxsize=200_000)
def is_staffed(hours: Hours, minute: int) -> bool:
    day, weekday, time = shown(hours, minute)
    return day not in hours.closed and any(
        shift[:5] <= time < shift[6:] for shift in hours.shifts[weekday]
    )


def is_working(hours: Hours, day: date) -> bool:
    return any(is_staffed(hours, minute) for minute in minutes_of(hours.zone, day))


def days_later(hours: Hours, day: date, days: int) -> date:
    while days:
        day += timedelta(days=1)
        days -= is_working(hours, day)
    return day


def arrival(order: Order, days: int) -> int:
    now = int(order.moment.timestamp()) // MINUTE
    if not days:
        return now
    clock = shown(order.hours, now)
    day = days_later(order.hours, clock.day, days)
    on_that_day = minutes_of(order.hours.zone, day)
    return next(m for m in on_that_day if shown(order.hours, m).time >= clock.time)


def enough(starts: int, builds: int, good: Fraction) -> Fraction:
    return sum(
        (
            math.comb(starts, n) * good**n * (1 - good) ** (starts - n)
            for n in range(builds, starts + 1)
        ),
        Fraction(0),
    )


def starts_of(order: Order) -> tuple[list[int], Fraction]:
    units = math.ceil(order.quantity * (1 + order.remade))
    builds = [math.ceil(Fraction(units * p.count, p.per_build)) for p in order.pieces]
    starts = list(builds)

    def chance(numbers: list[int]) -> Fraction:
        chances = (
            enough(n, b, p.good) for n, b, p in zip(numbers, builds, order.pieces, strict=True)
        )
        return math.prod(chances, start=Fraction(1))

    while chance(starts) < order.promise:
        gains = []
        for n, piece in enumerate(order.pieces):
            more = [*starts[:n], starts[n] + 1, *starts[n + 1 :]]
            gains.append((chance(more) - chance(starts)) / piece.minutes)
        starts[gains.index(max(gains))] += 1
    return starts, chance(starts)


def worked(order: Order, minute: int, minutes: int) -> int:
    """Count down staffed minutes; with none left, somebody must be there, or have been just now."""
    while minutes or not (is_staffed(order.hours, minute) or (is_staffed(order.hours, minute - 1))):
        minutes -= minutes > 0 and is_staffed(order.hours, minute)
        minute += 1
    return minute


@dataclass
class Watched:
    """The shop as it stands: what waits, what machines do, and what has been seen so far."""

    order: Order
    waiting: dict[str, list[Piece]]
    arrivals: dict[int, int]
    machines: list[Machine]
    minute: int
    seen_until: int
    last: int
    last_pieces: list[Piece]
    starts: dict[tuple[str, int], list[int]]
    alone: bool = False
    alone_in_queue: frozenset[tuple[str, int]] = frozenset()


def simulate(order: Order) -> Ready:
    now = int(order.moment.timestamp()) // MINUTE
    starts, chance = starts_of(order)
    shop = opened(order, now, starts)
    while any(shop.waiting.values()) or any(machine.build for machine in shop.machines):
        staffed = is_staffed(order.hours, shop.minute)
        shop.machines.sort(key=attrgetter("free_since", "number"))
        for machine in shop.machines:
            if not machine.queue:
                begin_or_go_on(shop, machine, staffed=staffed)
        for machine in shop.machines:
            let_pass(shop, machine, staffed=staffed)
        shop.minute += 1
    units = max((math.ceil(Fraction(p.per_build, p.count)) for p in shop.last_pieces), default=0)
    at = worked(order, shop.last, order.unit_min * min(units, order.quantity))
    at = max(at, worked(order, now, labour(order)))
    if order.parts_days:
        all_units = order.unit_min * order.quantity * (1 + order.remade)
        at = max(at, worked(order, arrival(order, order.parts_days), int(all_units)))
    day = shown(order.hours, at if is_staffed(order.hours, at) else at - 1).day
    return Ready(
        on=days_later(order.hours, day, order.dispatch_days),
        at=at,
        starts=shop.starts,
        alone=shop.alone or bool(shop.alone_in_queue & set(shop.starts)),
        chance=chance,
    )


def opened(order: Order, now: int, starts: list[int]) -> Watched:
    waiting: dict[str, list[Piece]] = {kind: [] for kind in order.kinds}
    for piece, number in zip(order.pieces, starts, strict=True):
        waiting[piece.kind] += [piece] * number
    for builds in waiting.values():
        builds.sort(key=lambda piece: piece.minutes, reverse=True)
    machines = [
        Machine(name, kind.unattended, (*kind.queues, *[0] * kind.count)[n], n + 1)
        for name, kind in order.kinds.items()
        for n in range(kind.count)
    ]
    arrivals = {days: arrival(order, days) for days in {p.waits_days for p in order.pieces}}
    return Watched(order, waiting, arrivals, machines, now, now, now, [], {})


def begin_or_go_on(shop: Watched, machine: Machine, *, staffed: bool) -> None:
    """Take the next build if free; begin it if it may begin now; do a minute of it."""
    if machine.build is None and shop.waiting[machine.kind]:
        machine.build = shop.waiting[machine.kind].pop(0)
        machine.left = machine.build.minutes
    if machine.build is None:
        return
    if machine.left == machine.build.minutes:
        if not staffed or not may_begin(shop, machine, machine.build):
            return
        shop.starts.setdefault((machine.kind, machine.number), []).append(shop.minute)
    machine.left -= 1
    shop.alone = shop.alone or not staffed


def may_begin(shop: Watched, machine: Machine, piece: Piece) -> bool:
    end = shop.minute + piece.minutes
    shop.seen_until = max(shop.seen_until, shop.minute)
    while shop.seen_until < end and is_staffed(shop.order.hours, shop.seen_until):
        shop.seen_until += 1  # somebody is there without a break until then
    return shop.minute >= shop.arrivals[piece.waits_days] and (
        machine.unattended or shop.seen_until >= end
    )


def let_pass(shop: Watched, machine: Machine, *, staffed: bool) -> None:
    """Let the minute pass for a queue, and see what has ended with it."""
    if machine.queue:
        if machine.unattended and not staffed:
            shop.alone_in_queue |= {(machine.kind, machine.number)}
        machine.queue -= machine.unattended or staffed
        if not machine.queue:
            machine.free_since = shop.minute + 1
    elif machine.build is not None and machine.left == 0:
        if shop.minute + 1 > shop.last:
            shop.last, shop.last_pieces = shop.minute + 1, []
        shop.last_pieces.append(machine.build)
        machine.build, machine.free_since = None, shop.minute + 1


def labour(order: Order) -> int:
    builds = sum(
        Fraction(math.ceil(Fraction(order.quantity * p.count, p.per_build))) / p.good
        for p in order.pieces
    )
    again = (order.build_min * builds + order.unit_min * order.quantity) * (1 + order.remade)
    minutes = order.order_min + again
    assert minutes.denominator == 1
    return int(minutes)

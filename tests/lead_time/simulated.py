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


def simulate(order: Order) -> Ready:
    now = int(order.moment.timestamp()) // MINUTE
    starts, chance = starts_of(order)
    waiting: dict[str, list[Piece]] = {kind: [] for kind in order.kinds}
    for piece, number in zip(order.pieces, starts, strict=True):
        waiting[piece.kind] += [piece] * number
    for builds in waiting.values():
        builds.sort(key=lambda piece: piece.minutes, reverse=True)
    arrivals = {days: arrival(order, days) for days in {p.waits_days for p in order.pieces}}
    machines = [
        Machine(name, kind.unattended, (*kind.queues, *[0] * kind.count)[n], n + 1)
        for name, kind in order.kinds.items()
        for n in range(kind.count)
    ]
    done: dict[tuple[str, int], list[int]] = {}
    alone, last, minute = False, now, now
    last_pieces: list[Piece] = []
    seen_until = now
    alone_in_queue: set[tuple[str, int]] = set()
    while any(waiting.values()) or any(m.build for m in machines):
        staffed = is_staffed(order.hours, minute)
        machines.sort(key=attrgetter("free_since", "number"))
        for machine in machines:
            if machine.queue:
                continue
            if machine.build is None and waiting[machine.kind]:
                machine.build = waiting[machine.kind].pop(0)
                machine.left = machine.build.minutes
            if machine.build is not None and machine.left == machine.build.minutes:
                piece = machine.build
                seen_until = max(seen_until, minute)
                while seen_until < minute + piece.minutes and is_staffed(order.hours, seen_until):
                    seen_until += 1  # somebody is there without a break until then
                fits = machine.unattended or seen_until >= minute + piece.minutes
                if not staffed or minute < arrivals[piece.waits_days] or not fits:
                    continue
                done.setdefault((machine.kind, machine.number), []).append(minute)
            if machine.build is not None:
                machine.left -= 1
                alone = alone or not staffed
        for machine in machines:
            if machine.queue:
                if machine.unattended and not staffed:
                    alone_in_queue.add((machine.kind, machine.number))
                machine.queue -= machine.unattended or staffed
                if not machine.queue:
                    machine.free_since = minute + 1
            elif machine.build is not None and machine.left == 0:
                if minute + 1 > last:
                    last, last_pieces = minute + 1, []
                last_pieces.append(machine.build)
                machine.build, machine.free_since = None, minute + 1
        minute += 1
    units = max((math.ceil(Fraction(p.per_build, p.count)) for p in last_pieces), default=0)
    at = worked(order, last, order.unit_min * min(units, order.quantity))
    at = max(at, worked(order, now, labour(order)))
    if order.parts_days:
        all_units = order.unit_min * order.quantity * (1 + order.remade)
        at = max(at, worked(order, arrival(order, order.parts_days), int(all_units)))
    day = shown(order.hours, at if is_staffed(order.hours, at) else at - 1).day
    return Ready(
        on=days_later(order.hours, day, order.dispatch_days),
        at=at,
        starts=done,
        alone=alone or bool(alone_in_queue & set(done)),
        chance=chance,
    )


def labour(order: Order) -> int:
    builds = sum(
        Fraction(math.ceil(Fraction(order.quantity * p.count, p.per_build))) / p.good
        for p in order.pieces
    )
    again = (order.build_min * builds + order.unit_min * order.quantity) * (1 + order.remade)
    minutes = order.order_min + again
    assert minutes.denominator == 1
    return int(minutes)

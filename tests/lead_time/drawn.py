"""Draws orders for the simulation, and writes them as requests of the contract.

Two kinds of machine, three machines in all; weeks in which the clock is changed, closed days,
nights, and few different minutes, so that many builds are equally long.
"""

import random
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from typing import Any

from tests.lead_time.simulated import WEEKDAYS, Hours, Kind, Order, Piece

BEFORE_CLOCK_CHANGES = {
    "Europe/Vienna": (date(2026, 3, 26), date(2026, 10, 22)),
    "America/Havana": (date(2026, 3, 5), date(2026, 10, 29)),  # at midnight
    "Australia/Lord_Howe": (date(2026, 4, 2), date(2026, 10, 1)),  # by half an hour
    "UTC": (date(2026, 2, 26), date(2026, 12, 29)),
}
SHIFTS = (
    (),
    ("08:00-16:30",),
    ("08:00-12:00", "13:00-18:00"),
    ("00:00-06:00", "22:00-24:00"),
    ("00:00-24:00",),
    ("00:00-02:30", "09:00-17:00"),
    ("01:15-05:45",),
)
GOOD = {"100": Fraction(1), "80": Fraction(4, 5), "50": Fraction(1, 2)}
REMADE = {"0": Fraction(0), "20": Fraction(1, 4), "50": Fraction(1)}
A_DAY_OF_HOURS = 1_440


def drawn(seed: int) -> Order:
    draw = random.Random(seed)
    zone = draw.choice(tuple(BEFORE_CLOCK_CHANGES))
    first = draw.choice(BEFORE_CLOCK_CHANGES[zone])
    shifts = [draw.choice(SHIFTS) for _ in WEEKDAYS]
    shifts[draw.randrange(7)] = ("06:00-22:00",)  # so that every build fits somewhere
    closed = {first + timedelta(days=draw.randrange(9)) for _ in range(draw.randrange(3))}
    local = datetime(first.year, first.month, first.day, tzinfo=UTC)
    moment = local + timedelta(minutes=draw.randrange(3 * A_DAY_OF_HOURS))
    kinds = {
        "small": Kind(2, draw.random() < 0.5, _queues(draw, 2)),
        "large": Kind(1, draw.random() < 0.5, _queues(draw, 1)),
    }
    return Order(
        hours=Hours(zone, tuple(shifts), frozenset(closed)),
        kinds=kinds,
        pieces=tuple(_piece(draw) for _ in range(draw.randint(1, 3))),
        moment=moment,
        quantity=draw.randint(1, 6),
        remade=draw.choice(tuple(REMADE.values())),
        promise=Fraction(draw.choice((0, 50, 80, 90, 95)), 100),
        order_min=draw.choice((0, 10, 300)),
        build_min=draw.choice((0, 16)),
        unit_min=draw.choice((0, 4, 60)),
        parts_days=draw.choice((0, 0, 1, 3)),
        dispatch_days=draw.choice((0, 0, 1, 2)),
    )


def _queues(draw: random.Random, most: int) -> tuple[int, ...]:
    return tuple(draw.choice((0, 15, 240, 1_500)) for _ in range(draw.randint(0, most)))


def _piece(draw: random.Random) -> Piece:
    per_build = draw.randint(1, 4)
    return Piece(
        kind=draw.choice(("small", "small", "large")),
        minutes=draw.choice((45, 120, 120, 400, 700)),
        per_build=per_build,
        count=draw.randint(1, 2),
        good=draw.choice(tuple(GOOD.values())),
        waits_days=draw.choice((0, 0, 0, 2)),
    )


def request_of(order: Order) -> dict[str, Any]:
    """Write an order as a quote request that brings its rates."""
    yields = {value: text for text, value in GOOD.items()}
    rejects = {value: text for text, value in REMADE.items()}
    parts = [{"component": "part"}] if order.parts_days else []
    return {
        "product": {
            "pieces": [
                {
                    "machine": piece.kind,
                    "print_min": piece.minutes - 5,
                    "pieces_per_build": piece.per_build,
                    "count": piece.count,
                    "first_pass_yield_pct": yields[piece.good],
                    "feed": [_feed(piece)],
                }
                for piece in order.pieces
            ],
            "components": parts,
            "work": {
                "order_min": order.order_min,
                "build_min": order.build_min,
                "unit_min": order.unit_min,
            },
            "reject_pct": rejects[order.remade],
        },
        "quantity": order.quantity,
        "channel": "shop",
        "aim": {"markup_pct": 20},
        "from": f"{order.moment:%Y-%m-%dT%H:%M:%SZ}",
        "rates": _sheet_of(order),
        "workload": {
            "machines": {
                name: {"queue_h": [minutes / 60 for minutes in kind.queues]}
                for name, kind in order.kinds.items()
            }
        },
    }


def _feed(piece: Piece) -> dict[str, Any]:
    if not piece.waits_days:
        return {"material": "kept", "mass_g": 10}
    return {"material": "bought", "mass_g": 10, "charge": "whole_packs"}


def _sheet_of(order: Order) -> dict[str, Any]:
    hours = order.hours
    return {
        "currency": "EUR",
        "time_zone": hours.zone,
        "labour_rate_per_hour": 30,
        "price_per_kwh": "0.3",
        "staffed_hours": dict(zip(WEEKDAYS, map(list, hours.shifts), strict=True)),
        "closed_days": sorted(map(str, hours.closed)),
        "materials": {
            "kept": {"price_per_kg": 20},
            "bought": {"offer": {"pack_g": 1000, "list_price": 20, "delivery_working_days": 2}},
        },
        "machines": {
            name: {
                "rate_per_hour": 1,
                "power_w": 100,
                "warm_up_min": 5,
                "count": kind.count,
                "unattended": kind.unattended,
            }
            for name, kind in order.kinds.items()
        },
        "components": {
            "part": {
                "charging": "order",
                "offers": [{"price": 1, "delivery_working_days": order.parts_days}],
            }
        },
        "channels": {
            "shop": {
                "prices_include_tax": True,
                "promise_pct": str(float(order.promise * 100)),
                "dispatch_working_days": order.dispatch_days,
            }
        },
    }

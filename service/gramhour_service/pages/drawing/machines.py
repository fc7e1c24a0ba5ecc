"""What the machines do until an order is ready: a line for each, a bead for each build."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from markupsafe import Markup

from gramhour_service.pages.drawing.scale import Scale
from gramhour_service.pages.drawing.svg import drawing, element, line, text

WIDTH, LABELS, HEAD, ROW, END = 760, 140, 60, 26, 12
DAY = 76
"""How much room the name of a day takes."""
BETWEEN_BUILDS = 5
"""Room for the round ends of two beads, so that one build is told from the next."""
MANY_DAYS = 14


def machines_over_time(lead_time: Mapping[str, Any]) -> Markup:
    """Draw a lead time's machines; nothing where none has anything to do."""
    plans = lead_time["machines"]
    if not plans:
        return Markup("")
    first = _moment(lead_time["from"])
    last = max(_moment(plan["ends_at"]) for plan in plans)
    scale = Scale(first.timestamp(), last.timestamp(), LABELS, WIDTH - END)
    height = HEAD + len(plans) * ROW
    parts = [*_days(first, last, scale, height)]
    for n, plan in enumerate(plans):
        parts += _machine(plan, HEAD + n * ROW, scale)
    says = f"{len(plans)} machines from {first:%a %d %b, %H:%M} to {last:%a %d %b, %H:%M}."
    return drawing("What the machines do until it is ready", says, (WIDTH, height), *parts)


def piece_told(pointer: str) -> str:
    """Name a piece as the description on the bench does: they are counted from 1 there."""
    return f"piece {int(pointer.rpartition('/')[2]) + 1}"


def _machine(plan: Mapping[str, Any], y: float, scale: Scale) -> Iterator[Markup]:
    name = f"{plan['machine']} {plan['number']}"
    yield text(LABELS - END, y + 5, name, "ink", "end")
    for builds in plan["builds"]:
        for start in map(_moment, builds["starts_at"]):
            end = start.timestamp() + builds["build_min"] * 60
            left = scale.at(start.timestamp())
            right = max(scale.at(end) - BETWEEN_BUILDS, left + 0.5)
            told = f"{name}: {piece_told(builds['piece'])}, from {start:%a %d %b, %H:%M}"
            yield element("g", element("title", told), line([(left, y), (right, y)], "bead"))


def _days(first: datetime, last: datetime, scale: Scale, height: float) -> Iterator[Markup]:
    """Put a hair at each midnight, of many days at every seventh, and name the day after it."""
    every = 1 if (last - first).days < MANY_DAYS else 7
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    free = float(LABELS)
    yield text(LABELS, 16, f"from {first:%a %d %b, %H:%M}")
    yield text(WIDTH - END, 16, f"done {last:%a %d %b, %H:%M}", "asked", "end")
    while (midnight := midnight + timedelta(days=every)) < last:
        x = scale.at(midnight.timestamp())
        is_named = free <= x <= WIDTH - DAY
        yield line([(x, 26 if is_named else 48), (x, height - 8)], "hair")
        if is_named:
            yield text(x + 4, 40, f"{midnight:%a %d %b}")
            free = x + DAY


def _moment(told: str) -> datetime:
    return datetime.fromisoformat(told)

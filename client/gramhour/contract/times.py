"""Readers of days and instants. Each notes a fault in words and goes on, as those of ``leaves``."""

import re
from contextlib import suppress
from datetime import UTC, date, datetime
from typing import Any

from gramhour.contract.noting import Place, Reading, kind_of, shown

PLAIN_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
PLAIN_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?"
    r"([Zz]|[+-][0-9]{2}:[0-9]{2})",
    re.ASCII,
)
WITHOUT_ZONE = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[Tt ]([0-9]{2}:[0-9]{2})(:[0-9]{2}(?:\.[0-9]{1,6})?)?", re.ASCII
)
FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(2999, 12, 31)


def read_day(value: Any, place: Place, reading: Reading) -> Any:
    """Read a calendar day (RFC 3339 full-date; TOML has them without quotes)."""
    day = value
    if isinstance(value, str) and PLAIN_DAY.fullmatch(value):
        with suppress(ValueError):
            day = date.fromisoformat(value)
    if not isinstance(day, date) or isinstance(day, datetime):
        found = shown(value) if isinstance(value, str) else kind_of(value)
        told = why_no_time(value[:10]) if isinstance(value, str) else None
        return reading.refuse(place, told or f"must be a day such as 2026-12-01, not {found}")
    if not FIRST_DAY <= day <= LAST_DAY:
        return reading.refuse(place, f"must be from {FIRST_DAY} to {LAST_DAY}, not {day}")
    return day


def read_moment(value: Any, place: Place, reading: Reading) -> Any:
    """Read an instant (RFC 3339 date-time with its offset; TOML has them without quotes)."""
    moment = value
    if isinstance(value, str) and PLAIN_MOMENT.fullmatch(value):
        with suppress(ValueError):
            moment = datetime.fromisoformat(value.upper())
    if not isinstance(moment, datetime) or moment.tzinfo is None:
        found = shown(value) if isinstance(value, str) else kind_of(value)
        text = moment.isoformat() if isinstance(moment, datetime) else value
        told = why_no_time(text) if isinstance(text, str) else None
        such = "must be an instant such as 2026-12-01T09:00:00+01:00"
        return reading.refuse(place, told or f"{such}, not {found}")
    try:
        day = moment.astimezone(UTC).date()
    except OverflowError:
        day = moment.date()
    if not FIRST_DAY < day < LAST_DAY:
        return reading.refuse(place, f"must be after {FIRST_DAY} and before {LAST_DAY}, not {day}")
    return moment


def why_no_time(text: str) -> str | None:
    """Say of what looks like a day or an instant that the calendar lacks it, or it lacks a zone."""
    if PLAIN_DAY.fullmatch(day := text[:10]):
        try:
            date.fromisoformat(day)
        except ValueError:
            return f"there is no day {day} in the calendar"
    if (found := WITHOUT_ZONE.fullmatch(text)) is None:
        return None
    clock = f"{found[1]}T{found[2]}{found[3] or ':00'}"
    return f"its time zone is missing: write {clock}+01:00, with your offset from UTC, or {clock}Z"

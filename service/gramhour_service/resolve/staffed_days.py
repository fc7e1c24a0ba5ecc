"""The shop's staffed hours as moments: its clock, its weekdays, its closed days.

Somebody is there at a moment if the clock on the wall then shows a time within the hours of the
day that it shows. So an hour that the clock skips is nobody's, and one that it shows twice is
staffed twice. Reads the tz database, never a clock: the moment is handed in.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from msgspec import UNSET

from gramhour.contract.hours import WEEKDAYS, StaffedHours
from gramhour.contract.rates import RateSheet
from gramhour_service.calculation.lead_time.terms import SECONDS_A_DAY, Calendar, Stretches
from gramhour_service.resolve.days import time_zone_of

MIDNIGHT = time(0)
A_WEEK = len(WEEKDAYS)
MOST_KEPT = 10_000


def calendar_of(sheet: RateSheet) -> Calendar:
    """Make the calendar of a sound sheet that has staffed hours; days are kept once looked at."""
    assert sheet.staffed_hours is not UNSET
    zone = time_zone_of(sheet)
    week = tuple(clock_times(sheet.staffed_hours, name) for name in WEEKDAYS)
    closed = frozenset(
        () if sheet.closed_days is UNSET else (day.toordinal() for day in sheet.closed_days)
    )
    kept: dict[int, Stretches] = {}

    def staffed_on(day: int) -> Stretches:
        found = kept.get(day)
        if found is None:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            hours = () if day in closed else week[(day - 1) % A_WEEK]
            found = kept[day] = stretches_of(day, hours, zone)
        return found

    return Calendar(staffed_on, _day_of(zone), _clock_of(zone), _moment_at(zone))


def clock_times(hours: StaffedHours, weekday: str) -> Stretches:
    """Read the hours of a weekday as seconds of the clock, in order."""
    shifts = getattr(hours, weekday)
    return () if shifts is UNSET else tuple(sorted(seconds_of_shift(shift) for shift in shifts))


def seconds_of_shift(shift: str) -> tuple[int, int]:
    """Read from when until when on the clock, in seconds."""
    start, end = (each.split(":") for each in shift.split("-"))
    return clock_seconds(start), clock_seconds(end)


def clock_seconds(clock: list[str]) -> int:
    """Read hours and minutes as seconds."""
    hours, minutes = map(int, clock)
    return hours * 3_600 + minutes * 60


def stretches_of(day: int, hours: Stretches, zone: tzinfo) -> Stretches:
    """Say from which moment until which each stretch of a day's hours lasts."""
    if not hours:
        return ()
    begins, ends = midnight(day, zone), midnight(day + 1, zone)
    if ends - begins == SECONDS_A_DAY:
        return tuple((begins + start, begins + end) for start, end in hours)
    return tuple(
        (max(first, shows + start), min(last, shows + end))
        for first, last, shows in _parts(begins, ends, zone)
        for start, end in hours
        if max(first, shows + start) < min(last, shows + end)
    )


def _parts(begins: int, ends: int, zone: tzinfo) -> list[tuple[int, int, int]]:
    """Part a day where its clock is changed; with each part the moment of its clock's midnight."""
    before, after = _offset(begins, zone), _offset(ends - 1, zone)
    earliest, latest = begins, ends - 1
    while latest - earliest > 1:
        middle = (earliest + latest) // 2
        if _offset(middle, zone) == before:
            earliest = middle
        else:
            latest = middle
    changed = latest if before != after else ends
    shown = datetime.fromtimestamp(begins, zone)
    at_midnight = begins - (shown.hour * 3_600 + shown.minute * 60 + shown.second)
    parts = [(begins, changed, at_midnight), (changed, ends, at_midnight + before - after)]
    return [part for part in parts if part[0] < part[1]]


def _offset(moment: int, zone: tzinfo) -> int:
    offset = datetime.fromtimestamp(moment, zone).utcoffset()
    assert offset is not None
    return int(offset.total_seconds())


def midnight(day: int, zone: tzinfo) -> int:
    """Say at which moment a day begins."""
    return int(datetime.combine(date.fromordinal(day), MIDNIGHT, zone).timestamp())


def _day_of(zone: tzinfo) -> Callable[[int], int]:
    return lambda moment: datetime.fromtimestamp(moment, zone).toordinal()


def _clock_of(zone: tzinfo) -> Callable[[int], int]:
    def clock_of(moment: int) -> int:
        shown = datetime.fromtimestamp(moment, zone)
        return shown.hour * 3_600 + shown.minute * 60 + shown.second

    return clock_of


def _moment_at(zone: tzinfo) -> Callable[[int, int], int]:
    def moment_at(day: int, clock: int) -> int:
        shown = datetime.combine(date.fromordinal(day), MIDNIGHT) + timedelta(seconds=clock)
        return int(shown.replace(tzinfo=zone).timestamp())

    return moment_at


def whole_second(moment: datetime) -> int:
    """Say the moment in whole seconds of UTC, a part of one rounded up."""
    since = moment - datetime(1970, 1, 1, tzinfo=UTC)
    whole = since // timedelta(seconds=1)
    return whole + (since > timedelta(seconds=whole))


def told_moment(moment: int, zone: tzinfo) -> datetime:
    """Tell a moment as the shop's clock shows it."""
    return datetime.fromtimestamp(moment, zone)

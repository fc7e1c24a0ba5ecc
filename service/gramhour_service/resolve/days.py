"""Days and time zones of a shop: when its day begins, and until when a quote holds.

Reads the tz database, never a clock: the moment is handed in.
"""

from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import UNSET

from gramhour.contract.rates import RateSheet

LAST_SECOND = time(23, 59, 59)


def is_time_zone(name: str) -> bool:
    """Say whether the tz database has a time zone of that name."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):  # not there, no name at all, a folder
        return False
    return True


def time_zone_of(sheet: RateSheet) -> tzinfo:
    """Find the time zone of a sound sheet, UTC if it names none."""
    return UTC if sheet.time_zone is UNSET else ZoneInfo(sheet.time_zone)


def day_at(moment: datetime, sheet: RateSheet) -> date:
    """Say which day it is in the shop at a moment."""
    return moment.astimezone(time_zone_of(sheet)).date()


def end_of_validity(day: date, valid_days: int, sheet: RateSheet) -> datetime:
    """Say until when a quote holds: the last second of the shop's day so many days later."""
    last = day + timedelta(days=valid_days)
    return datetime.combine(last, LAST_SECOND, tzinfo=time_zone_of(sheet))

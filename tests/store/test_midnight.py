"""The shop's day begins where the shop is, and a planned sheet is served from then on.

The moments at which days begin are those of the IANA time zone database's rules, from memory:
Auckland is 13 h ahead of UTC in November, Los Angeles 8 h behind; Vienna changes its clocks on
2026-03-29 and 2026-10-25 at 01:00 UTC; Santiago does so on 2026-09-06 at midnight, so that this
day begins at one o'clock (https://www.iana.org/time-zones, files australasia, northamerica,
europe and southamerica).
"""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from sqlite_utils import Database

from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Pinned, Sheets
from gramhour_service.sheets.saving import import_sheet
from tests.store.shops import NOON, TODAY, sheet

SECOND = timedelta(seconds=1)
DAY = timedelta(days=1)
BEGINNINGS = {
    "ahead of UTC": ("Pacific/Auckland", "2026-11-26", "2026-11-25T11:00"),
    "behind UTC": ("America/Los_Angeles", "2026-11-26", "2026-11-26T08:00"),
    "at UTC": ("UTC", "2026-11-26", "2026-11-26T00:00"),
    "before a short night": ("Europe/Vienna", "2026-03-29", "2026-03-28T23:00"),
    "after a short night": ("Europe/Vienna", "2026-03-30", "2026-03-29T22:00"),
    "before a long night": ("Europe/Vienna", "2026-10-25", "2026-10-24T22:00"),
    "after a long night": ("Europe/Vienna", "2026-10-26", "2026-10-25T23:00"),
    "without a midnight": ("America/Santiago", "2026-09-06", "2026-09-06T04:00"),
}
ALL_BEGINNINGS = pytest.mark.parametrize(
    ("zone", "day", "begins"), BEGINNINGS.values(), ids=list(BEGINNINGS)
)


def served(pinned: Pinned) -> tuple[int, date]:
    """Tell an hour's cost in a sheet, which tells sheets apart, and the day it was served for."""
    return int(pinned.in_force.sheet.labour_rate_per_hour), pinned.on


def plan(store: Database, zone: str | None, on: date, moment: datetime) -> None:
    """Take in a sheet long before a moment, and plan another one from a day on."""
    where = {} if zone is None else {"time_zone": zone}
    before = moment - timedelta(days=20)
    import_sheet(store, sheet(30, **where), now=before, made_by="ada")
    import_sheet(store, sheet(36, **where), now=before, made_by="ada", effective_from=on)


@ALL_BEGINNINGS
def test_a_planned_sheet_is_served_from_the_beginning_of_the_shops_day(
    store: Database, zone: str, day: str, begins: str
) -> None:
    on, midnight = date.fromisoformat(day), datetime.fromisoformat(begins).replace(tzinfo=UTC)
    plan(store, zone, on, midnight)
    sheets = Sheets(store)
    clock = [midnight - DAY, midnight - SECOND, midnight, midnight + SECOND, midnight + DAY]
    seen = [served(sheets.pinned(now)) for now in clock]
    after = date.fromordinal(on.toordinal() + 1)
    assert seen[1:4] == [(30, on - DAY), (36, on), (36, on)]
    assert seen[0][0] == 30
    assert seen[4][0] == 36
    assert seen[4][1] in {on, after}  # a long day is not over after 24 hours


@ALL_BEGINNINGS
def test_what_was_kept_before_or_after_midnight_changes_no_answer(
    store: Database, zone: str, day: str, begins: str
) -> None:
    on, midnight = date.fromisoformat(day), datetime.fromisoformat(begins).replace(tzinfo=UTC)
    plan(store, zone, on, midnight)
    clock = [midnight + timedelta(hours=n) for n in range(-30, 31)]
    sheets = Sheets(store)
    forwards = [sheets.pinned(now) for now in clock]
    backwards = [sheets.pinned(now) for now in reversed(clock)][::-1]
    assert forwards == backwards == [Sheets(store).pinned(now) for now in clock]
    assert [served(each)[0] for each in forwards] == [30] * 30 + [36] * 31


def test_a_shop_without_a_time_zone_has_the_days_of_utc(store: Database) -> None:
    midnight = datetime(2026, 11, 26, tzinfo=UTC)
    plan(store, None, midnight.date(), midnight)
    sheets = Sheets(store)
    assert served(sheets.pinned(midnight - SECOND)) == (30, TODAY)
    assert served(sheets.pinned(midnight)) == (36, TODAY + DAY)


def test_the_zone_in_which_a_moment_is_told_changes_nothing(store: Database) -> None:
    midnight = datetime(2026, 11, 25, 11, tzinfo=UTC)
    plan(store, "Pacific/Auckland", TODAY + DAY, midnight)
    for hours in (-11, 0, 5.5, 14):
        told = timezone(timedelta(hours=hours))
        assert served(Sheets(store).pinned((midnight - SECOND).astimezone(told)))[0] == 30
        assert served(Sheets(store).pinned(midnight.astimezone(told)))[0] == 36


@pytest.mark.parametrize(
    ("zone", "at", "day"),
    [
        ("Pacific/Auckland", "2026-11-25T11:00", "2026-11-26"),
        ("Pacific/Auckland", "2026-11-25T23:59", "2026-11-26"),
        ("Pacific/Kiritimati", "2026-11-25T10:00", "2026-11-26"),
        ("America/Los_Angeles", "2026-11-26T07:59", "2026-11-25"),
        ("UTC", "2026-11-26T00:00", "2026-11-26"),
    ],
)
def test_the_first_sheet_of_a_shop_is_in_force_at_once(
    store: Database, zone: str, at: str, day: str
) -> None:
    now = datetime.fromisoformat(at).replace(tzinfo=UTC)
    sheets = Sheets(store)
    with pytest.raises(NothingInForce):
        sheets.pinned(now)
    import_sheet(store, sheet(30, time_zone=zone), now=now, made_by="ada")
    assert served(sheets.pinned(now)) == (30, date.fromisoformat(day))


def test_a_first_sheet_planned_for_tomorrow_is_not_served_today(store: Database) -> None:
    import_sheet(store, sheet(), now=NOON, made_by="ada", effective_from=TODAY + DAY)
    sheets = Sheets(store)
    with pytest.raises(NothingInForce):
        sheets.pinned(datetime(2026, 11, 25, 23, 59, 59, tzinfo=UTC))
    assert served(sheets.pinned(datetime(2026, 11, 26, tzinfo=UTC))) == (30, TODAY + DAY)


@pytest.mark.parametrize("hour", range(24))
@pytest.mark.parametrize("first", ["Pacific/Auckland", "America/Los_Angeles", "UTC"])
def test_a_shop_that_moves_is_served_a_sheet_of_the_day_it_is_served_for(
    store: Database, first: str, hour: int
) -> None:
    import_sheet(store, sheet(30, time_zone=first), now=NOON - 9 * DAY, made_by="ada")
    moved = sheet(36, time_zone="Asia/Tokyo")
    import_sheet(store, moved, now=NOON - 9 * DAY, made_by="ada", effective_from=TODAY)
    pinned = Sheets(store).pinned(datetime(2026, 11, 25, hour, tzinfo=UTC))
    assert served(pinned)[0] == (36 if pinned.on >= TODAY else 30)


def test_what_another_process_saves_is_served_by_the_next_request(
    store: Database,
) -> None:
    sheets = Sheets(store)
    for labour in (30, 36):
        import_sheet(store, sheet(labour), now=NOON, made_by="ada")
        assert served(sheets.pinned(NOON)) == (labour, TODAY)
    assert served(sheets.pinned(NOON, revision=1)) == (30, TODAY)
    with pytest.raises(NoSuchRevision) as refused:
        sheets.pinned(NOON, revision=3)
    assert refused.value.newest == 2

"""A change is known since a revision and in force from a day: every answer is of both."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from gramhour_service.sheets.in_force import InForce, NothingInForce, Sheets, read_in_force
from gramhour_service.sheets.rows import differences
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import (
    Change,
    Key,
    add_revision,
    latest_changes,
    newest_revision,
    planned_changes,
)
from tests.http.door import open_empty
from tests.store.shops import NOON, filament, sheet

FIRST = date(2026, 11, 27)
"""So that the days of a history cross the end of a month."""
DAYS = [FIRST + timedelta(days=n) for n in range(9)]
ASKED = [FIRST - timedelta(days=1), *DAYS, DAYS[-1] + timedelta(days=1)]


class Saved(NamedTuple):
    """What one revision changes, from a day on."""

    on: date
    changes: dict[Key, str | None]


@contextmanager
def new_store(factory: pytest.TempPathFactory) -> Iterator[Database]:
    store = open_empty(factory.mktemp("drawn") / "gramhour.sqlite")
    try:
        yield store
    finally:
        store.close()


def save(store: Database, saved: Saved) -> int:
    with writing(store):
        return add_revision(
            store, saved.changes, effective_from=saved.on, now=NOON, made_by="ada", note="drawn"
        )


def rows_of(history: list[Saved]) -> list[Change]:
    """List all rows of a history, in the order in which they were saved."""
    return [
        Change(kind, code, saved.on.isoformat(), number, value)
        for number, saved in enumerate(history, start=1)
        for (kind, code), value in saved.changes.items()
    ]


def counts_by_scan(rows: list[Change], revision: int, on: date) -> dict[Key, Change]:
    """Say the rule again: the latest day wins, among equal ones the highest revision."""
    winners: dict[Key, Change] = {}
    for row in rows:
        if row.revision > revision or date.fromisoformat(row.effective_from) > on:
            continue
        best = winners.get((row.kind, row.code))
        if best is None or row.effective_from >= best.effective_from:
            winners[row.kind, row.code] = row  # later rows are of the same or a higher revision
    return winners


def planned_by_scan(rows: list[Change], revision: int, after: date) -> list[Change]:
    newest: dict[tuple[str, str, str], Change] = {}
    for row in rows:
        if row.revision <= revision and date.fromisoformat(row.effective_from) > after:
            newest[row.effective_from, row.kind, row.code] = row
    return [newest[place] for place in sorted(newest)]


KEYS = [("shop", "currency"), ("shop", "m1"), ("machines", "m1"), ("machines", "m-1"), ("a", "z")]
VALUES = st.none() | st.sampled_from(['"30"', '"27.4"', "[1, 5]", '{"price_per_kg": "20"}'])
HISTORIES = st.lists(
    st.builds(
        Saved,
        st.sampled_from(DAYS),
        st.dictionaries(st.sampled_from(KEYS), VALUES, min_size=1, max_size=4),
    ),
    max_size=8,
)


@given(HISTORIES)
def test_of_all_rows_the_one_that_counts_is_found_on_every_day_at_every_revision(
    tmp_path_factory: pytest.TempPathFactory, history: list[Saved]
) -> None:
    with new_store(tmp_path_factory) as store:
        assert [save(store, saved) for saved in history] == list(range(1, len(history) + 1))
        rows = rows_of(history)
        for revision in range(len(history) + 2):
            for day in ASKED:
                assert latest_changes(store, revision, day) == counts_by_scan(rows, revision, day)
                planned = planned_changes(store, revision, day)
                assert planned == planned_by_scan(rows, revision, day)


@st.composite
def shop_histories(draw: st.DrawFn) -> list[Saved]:
    """Draw a first sheet, and changes of it that are sound in whatever order they count."""
    whole = sheet(materials={"pla": filament(20)}, time_zone="Pacific/Auckland")
    history = [Saved(draw(st.sampled_from(DAYS[:4])), dict(differences(None, whole)))]
    price = st.integers(1, 60).map(lambda number: f'"{number}"')
    per_kg = st.none() | price.map(lambda text: f'{{"price_per_kg":{text}}}')
    changes = st.fixed_dictionaries(
        {},
        optional={
            ("shop", "labour_rate_per_hour"): price,
            ("shop", "time_zone"): st.sampled_from([None, '"UTC"', '"America/Los_Angeles"']),
            ("materials", "pla"): per_kg,
            ("materials", "asa"): per_kg,
        },
    ).filter(bool)
    later = st.builds(Saved, st.sampled_from(DAYS), changes)
    return history + draw(st.lists(later, max_size=6))


def told(in_force: InForce) -> tuple[Any, Any, Any]:
    """Tell the members that a history changes."""
    materials = in_force.sheet.materials
    prices = {} if materials is msgspec.UNSET else {c: m.price_per_kg for c, m in materials.items()}
    zone = in_force.sheet.time_zone
    return in_force.sheet.labour_rate_per_hour, zone if isinstance(zone, str) else None, prices


def told_by_scan(rows: list[Change], revision: int, on: date) -> tuple[Any, Any, Any]:
    counts = counts_by_scan(rows, revision, on)
    value = {key: msgspec.json.decode(row.value) for key, row in counts.items() if row.value}
    prices = {
        code: Decimal(rate["price_per_kg"])
        for (kind, code), rate in value.items()
        if kind == "materials"
    }
    labour = Decimal(value["shop", "labour_rate_per_hour"])
    return labour, value.get(("shop", "time_zone")), prices


@given(shop_histories())
def test_a_sheet_is_the_same_on_every_day_of_its_stretch(
    tmp_path_factory: pytest.TempPathFactory, history: list[Saved]
) -> None:
    with new_store(tmp_path_factory) as store:
        for saved in history:
            save(store, saved)
        rows = rows_of(history)
        for revision in range(1, len(history) + 1):
            days = [day for day in ASKED if day >= history[0].on]
            by_day = {day: read_in_force(store, revision, day) for day in days}
            for day, found in by_day.items():
                assert told(found) == told_by_scan(rows, revision, day)
                assert found.since <= day
                assert found.until is None or day < found.until
                within = [each for each in days if found.holds_on(each)]
                assert [by_day[each].sheet for each in within] == [found.sheet] * len(within)
                assert {by_day[each][2:4] for each in within} == {(found.since, found.until)}
                starts = {
                    date.fromisoformat(r.effective_from) for r in rows if r.revision <= revision
                }
                assert found.until == min((d for d in starts if d > day), default=None)


@given(shop_histories(), st.data())
def test_a_kept_sheet_is_never_served_on_a_day_or_at_a_revision_that_is_not_its_own(
    tmp_path_factory: pytest.TempPathFactory, history: list[Saved], data: st.DataObject
) -> None:
    days = st.sampled_from([day for day in ASKED if day >= history[0].on])
    with new_store(tmp_path_factory) as store:
        sheets = Sheets(store)
        for newest, saved in enumerate(history, start=1):
            save(store, saved)
            asks = st.lists(st.tuples(st.integers(1, newest), days), max_size=6)
            for revision, day in data.draw(asks):
                expected = read_in_force(store, revision, day)
                assert sheets.pinned(NOON, revision, day) == (expected, day)


def test_a_day_before_the_first_sheet_has_none(store: Database) -> None:
    save(store, Saved(DAYS[2], dict(differences(None, sheet()))))
    with pytest.raises(NothingInForce):
        read_in_force(store, newest_revision(store), DAYS[1])
    assert read_in_force(store, 1, DAYS[2])[2:4] == (DAYS[2], None)


@pytest.mark.parametrize(("most_rates", "most_others"), [(1_000, 15), (8, 2), (0, 1)])
def test_sheets_used_last_are_kept_as_far_as_there_is_room(
    store: Database, most_rates: int, most_others: int
) -> None:
    for hourly in range(30, 50):
        save(store, Saved(FIRST, dict(differences(None, sheet(str(hourly))))))  # of three rates
    sheets = Sheets(store, most_rates)
    first = {n: sheets.pinned(NOON, n, FIRST).in_force for n in range(1, 21)}
    kept = range(20 - most_others, 21)
    assert all(sheets.pinned(NOON, n, FIRST).in_force is first[n] for n in kept)
    gone = 19 - most_others
    assert sheets.pinned(NOON, gone, FIRST).in_force is not first[gone]

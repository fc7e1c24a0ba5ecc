"""A sheet taken in: one revision of what differs or none, and sound on every day to come."""

from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import pytest
from sqlite_utils import Database

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.in_force import read_in_force
from gramhour_service.sheets.saving import Saved, import_sheet
from gramhour_service.store.rates import Change, newest_revision, planned_changes, revision_of
from tests import demo
from tests.orders import drawn
from tests.store.shops import NOON, TODAY, filament, packed_in, part, sheet

LABOUR = ("shop", "labour_rate_per_hour")
MONDAY = TODAY + timedelta(days=5)
TUESDAY = MONDAY + timedelta(days=1)
LONG_AGO = TODAY - timedelta(days=90)
YESTERDAY = TODAY - timedelta(days=1)


def take_in(store: Database, sheet: RateSheet, **how: Any) -> Saved:
    return import_sheet(store, sheet, now=NOON, made_by="ada", **how)


def everything(store: Database) -> list[str]:
    return list(store.conn.iterdump())


def test_a_first_sheet_is_one_revision_and_all_of_it_is_added(store: Database) -> None:
    imported = take_in(store, demo.sheet(), note="the first")
    assert (imported.revision, imported.effective_from) == (1, TODAY)
    assert imported.added == imported.changes.keys()
    assert imported.overruled_by == []
    assert {("machines", code) for code in demo.sheet().machines or ()} <= imported.added
    assert read_in_force(store, 1, TODAY).sheet == demo.sheet()
    known_since = "2026-11-25T12:00:00+00:00"
    assert revision_of(store, 1) == (1, known_since, "2026-11-25", "ada", "the first", 40)


def test_sheets_of_all_kinds_are_read_back_as_they_were_taken_in(store: Database) -> None:
    for number, seed in enumerate(range(60), start=1):
        taken = sound_sheet(drawn(Random(seed))["rates"])
        assert take_in(store, taken).revision == number
        assert read_in_force(store, number, TODAY).sheet == taken


WRITTEN_OTHERWISE = {
    "the same": '{"currency":"EUR","labour_rate_per_hour":"27.4","price_per_kwh":"0.31",'
    '"materials":{"asa":{"price_per_kg":"31.50"},"pla":{"price_per_kg":"20"}}}',
    "numbers for texts": '{"currency":"EUR","labour_rate_per_hour":27.4,"price_per_kwh":0.31,'
    '"materials":{"asa":{"price_per_kg":31.5},"pla":{"price_per_kg":20}}}',
    "more zeros": '{"currency":"EUR","labour_rate_per_hour":"27.40","price_per_kwh":0.310000,'
    '"materials":{"asa":{"price_per_kg":31.500},"pla":{"price_per_kg":20.0}}}',
    "exponents": '{"currency":"EUR","labour_rate_per_hour":2.74e1,"price_per_kwh":31e-2,'
    '"materials":{"asa":{"price_per_kg":3.15E1},"pla":{"price_per_kg":2e1}}}',
    "another order": '{"materials":{"pla":{"price_per_kg":"20"},"asa":{"price_per_kg":"31.50"}},'
    '"price_per_kwh":"0.31","labour_rate_per_hour":"27.4","currency":"EUR"}',
    "a kind without rates": '{"currency":"EUR","labour_rate_per_hour":"27.4",'
    '"price_per_kwh":"0.31","nozzles":{},'
    '"materials":{"asa":{"price_per_kg":"31.50"},"pla":{"price_per_kg":"20"}}}',
}


@pytest.mark.parametrize("text", WRITTEN_OTHERWISE.values(), ids=list(WRITTEN_OTHERWISE))
def test_the_same_sheet_written_otherwise_is_no_revision(store: Database, text: str) -> None:
    materials = {"asa": filament("31.50"), "pla": filament("20")}
    take_in(store, sheet("27.4", materials=materials))
    before = everything(store)
    again = take_in(store, sound_sheet(parse_json(text.encode())), note="again")
    assert again == Saved(None, TODAY, {}, {}, [])
    assert everything(store) == before


def test_the_demo_sheet_taken_in_again_from_its_file_is_no_revision(store: Database) -> None:
    take_in(store, demo.sheet())
    again = take_in(store, sound_sheet(parse_toml(demo.SHEET.read_bytes())))
    assert (again.revision, newest_revision(store)) == (None, 1)


def test_what_was_changed_added_and_removed_is_told(store: Database) -> None:
    take_in(store, sheet(30, materials={"pla": filament(20), "asa": filament(31)}))
    now = sheet("36.50", materials={"pla": filament(20), "petg": filament(24)})
    imported = take_in(store, now)
    assert imported.revision == 2
    assert imported.changes == {
        LABOUR: '"36.50"',
        ("materials", "asa"): None,
        ("materials", "petg"): '{"price_per_kg":"24"}',
    }
    assert imported.added == {("materials", "petg")}
    assert read_in_force(store, 2, TODAY).sheet == now


def test_a_rate_that_comes_back_is_added(store: Database) -> None:
    whole = sheet(materials={"pla": filament(20)})
    for each in (whole, sheet()):
        take_in(store, each)
    assert take_in(store, whole).added == {("materials", "pla")}


def test_planned_changes_that_overrule_an_import_are_told(store: Database) -> None:
    take_in(store, sheet(30, materials={"pla": filament(20)}))
    take_in(store, sheet(36, materials={"pla": filament(20)}), effective_from=TUESDAY)
    take_in(store, sheet(34, materials={"pla": filament(21)}), effective_from=MONDAY)
    imported = take_in(store, sheet(31, materials={"pla": filament(20)}))
    assert imported.overruled_by == [
        Change(*LABOUR, MONDAY.isoformat(), 3, '"34"'),
        Change(*LABOUR, TUESDAY.isoformat(), 2, '"36"'),
    ]
    in_force = {day: read_in_force(store, 4, day).sheet for day in (TODAY, MONDAY, TUESDAY)}
    assert [int(each.labour_rate_per_hour) for each in in_force.values()] == [31, 34, 36]


def test_a_plan_is_withdrawn_by_the_old_sheet_on_its_day(store: Database) -> None:
    take_in(store, sheet(30))
    take_in(store, sheet(36), effective_from=MONDAY)
    withdrawn = take_in(store, sheet(30), effective_from=MONDAY)
    assert (withdrawn.revision, withdrawn.changes) == (3, {LABOUR: '"30"'})
    assert planned_changes(store, 3, TODAY) == [Change(*LABOUR, MONDAY.isoformat(), 3, '"30"')]
    assert read_in_force(store, 3, MONDAY).sheet == sheet(30)
    assert read_in_force(store, 2, MONDAY).sheet == sheet(36)


def test_a_past_day_needs_a_note(store: Database) -> None:
    take_in(store, sheet(29), effective_from=LONG_AGO, note="as we began")
    take_in(store, sheet(30))
    before = everything(store)
    with pytest.raises(Refused, match=r"before today \(2026-11-25\) needs a note") as refused:
        take_in(store, sheet(36), effective_from=YESTERDAY)
    assert refused.value.type == "invalid-rates"
    assert everything(store) == before
    backdated = take_in(store, sheet(36), effective_from=YESTERDAY, note="the invoice was late")
    assert (backdated.revision, backdated.effective_from) == (3, YESTERDAY)
    assert backdated.overruled_by == [Change(*LABOUR, TODAY.isoformat(), 2, '"30"')]
    days = (LONG_AGO, YESTERDAY, TODAY)
    assert [read_in_force(store, 3, day).sheet for day in days] == [sheet(29), sheet(36), sheet(30)]
    assert read_in_force(store, 2, YESTERDAY).sheet == sheet(29)


@pytest.mark.parametrize(
    ("zone", "hour", "today_is_past"),
    [("Pacific/Auckland", 10, False), ("Pacific/Auckland", 11, True), ("UTC", 23, False)],
)
def test_which_day_is_past_is_told_by_the_zone_of_the_shop(
    store: Database, zone: str, hour: int, today_is_past: bool
) -> None:
    now = datetime(2026, 11, 25, hour, tzinfo=UTC)
    taken = sheet(time_zone=zone)
    if today_is_past:
        with pytest.raises(Refused, match="needs a note"):
            import_sheet(store, taken, now=now, made_by="ada", effective_from=TODAY)
    imported = import_sheet(
        store, taken, now=now, made_by="ada", effective_from=TODAY, note="said" * today_is_past
    )
    assert imported.revision == 1


BOXES = {"box": part(1), "tube": part(2)}


def test_an_import_that_takes_away_what_a_planned_change_needs_is_refused(store: Database) -> None:
    take_in(store, sheet(components=BOXES, channels={"fair": packed_in("box")}))
    planned = sheet(components=BOXES, channels={"fair": packed_in("tube")})
    take_in(store, planned, effective_from=MONDAY)
    before = everything(store)
    without = sheet(components={"box": part(1)}, channels={"fair": packed_in("box")})
    for day in (TODAY, MONDAY - timedelta(days=1)):
        with pytest.raises(Refused, match=r"unknown code 'tube'.*planned for 2026-11-30") as no:
            take_in(store, without, effective_from=day)
        (fault,) = no.value.faults
        assert (no.value.type, fault.pointer) == (
            "invalid-rates",
            "/channels/fair/packing/0/component",
        )
        assert everything(store) == before
    # From the day of the plan on, the new sheet stands in its place.
    assert take_in(store, without, effective_from=MONDAY).revision == 3
    assert take_in(store, without).revision == 4


def test_a_currency_too_coarse_for_a_planned_price_is_refused(
    store: Database,
) -> None:
    fair = {"prices_include_tax": False}
    take_in(store, sheet(channels={"fair": fair}))
    fine = {"prices_include_tax": False, "price_step": "0.05"}
    take_in(store, sheet(channels={"fair": fine}), effective_from=TUESDAY)
    take_in(store, sheet(32, channels={"fair": fair}), effective_from=MONDAY)
    before = everything(store)
    with pytest.raises(Refused, match=r"price_step.*decimals.*planned for 2026-12-01"):
        take_in(store, sheet(currency="JPY", channels={"fair": fair}))
    assert everything(store) == before


def test_a_backdated_import_must_fit_what_is_in_force_since(store: Database) -> None:
    take_in(store, sheet(components=BOXES), effective_from=YESTERDAY, note="the first")
    take_in(store, sheet(components=BOXES, channels={"fair": packed_in("tube")}))
    before = everything(store)
    with pytest.raises(Refused, match="unknown code 'tube'"):
        take_in(store, sheet(), effective_from=YESTERDAY, note="the parts were never there")
    assert everything(store) == before

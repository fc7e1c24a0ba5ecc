"""A change has a day: the past needs a note, and what is planned for later still has to fit."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import (
    DEARER,
    FIRST,
    FRIDAY,
    LABOUR,
    MONDAY,
    RATES,
    change,
    delete,
    newest,
    of_machine,
    put,
    refused,
    removed,
    seen,
    value_of,
)
from tests.http.door import NOW, Door, opened

AMBER: dict[str, Any] = {
    "kind": "materials",
    "code": "petg-amber",
    "value": {"price_per_kg": "24.90"},
}
POWER: dict[str, Any] = {"kind": "shop", "code": "price_per_kwh", "value": "0.40"}
PAST = "a change dated before today (2026-12-07) needs a note that says why"


@pytest.fixture
def on_monday(own_path: Path) -> Iterator[Door]:
    """The demo's shop, six days after its first sheet came into force."""
    with opened(Settings(store=own_path), lambda: NOW + timedelta(days=6)) as door:
        yield door


def test_a_day_in_the_past_needs_a_note(on_monday: Door) -> None:
    many = change(on_monday, DEARER, effective_from=FRIDAY)
    empty = change(on_monday, DEARER, effective_from=FRIDAY, note="", trial=True)
    for answer in (many, empty):
        assert answer.status_code == 422
        assert refused(answer) == ("invalid-request", [("/note", PAST)])
    one = put(on_monday, LABOUR, "40", seen(FIRST), effective_from=FRIDAY)
    gone = delete(on_monday, LABOUR, seen(FIRST), effective_from=FRIDAY)
    assert refused(one) == ("invalid-request", [("note", PAST)])
    assert gone.status_code == 422
    assert newest(on_monday) == 1


def test_with_a_note_the_past_is_put_right(on_monday: Door) -> None:
    answer = change(on_monday, DEARER, effective_from=FRIDAY, note="agreed on Friday")
    assert (answer.status_code, answer.json()["effective_from"]) == (201, FRIDAY)
    days = ("2026-12-03", FRIDAY, MONDAY)
    assert [value_of(on_monday, LABOUR, rates_on=day) for day in days] == [
        "32.00",
        "33.50",
        "33.50",
    ]
    assert value_of(on_monday, LABOUR, rates_on=FRIDAY, rates_revision="1") == "32.00"


def test_today_and_later_need_no_note(on_monday: Door) -> None:
    assert change(on_monday, DEARER, effective_from=MONDAY).status_code == 201
    later = {**DEARER, "value": "35"}
    assert change(on_monday, later, based_on=2, effective_from="2999-12-31").status_code == 201


def test_before_the_first_sheet_no_rate_can_be_changed_alone(on_monday: Door) -> None:
    before: dict[str, Any] = {"effective_from": "2026-11-30", "note": "too early"}
    assert change(on_monday, DEARER, **before).status_code == 422
    assert put(on_monday, LABOUR, "40", {"If-None-Match": "*"}, **before).status_code == 422
    assert newest(on_monday) == 1


@pytest.mark.parametrize("day", ["2026-02-30", "monday", "2026-12-7", "", "20261207"])
def test_a_day_that_is_none_is_told(shop: Door, day: str) -> None:
    assert refused(change(shop, DEARER, effective_from=day))[1][0][0] == "/effective_from"
    for answer in (
        put(shop, LABOUR, "40", seen(FIRST), effective_from=day),
        delete(shop, LABOUR, seen(FIRST), effective_from=day),
    ):
        assert (answer.status_code, refused(answer)[1][0][0]) == (422, "effective_from")
    assert newest(shop) == 1


def test_planned_changes_that_will_hold_instead_are_told(own_shop: Door) -> None:
    assert change(own_shop, DEARER, AMBER, effective_from=MONDAY).status_code == 201
    cheaper = {**DEARER, "value": "30"}
    told = change(own_shop, cheaper, POWER, based_on=2).json()
    assert told["overruled_by"] == [{
        "kind": "shop", "code": "labour_rate_per_hour", "effective_from": MONDAY,
        "rates_revision": 2, "value": "33.50",
    }]  # fmt: skip
    without = removed("petg-amber", "materials")
    assert change(own_shop, without, based_on=3, effective_from="2026-12-08").status_code == 201
    told = change(own_shop, AMBER, based_on=4, effective_from=FRIDAY, trial=True).json()
    assert told["overruled_by"] == [{
        "kind": "materials", "code": "petg-amber", "effective_from": "2026-12-08",
        "rates_revision": 4,
    }]  # fmt: skip


def test_a_change_must_fit_what_is_planned_for_later(own_shop: Door) -> None:
    later = of_machine("large", rate_per_hour=1, power_w=1, usual_nozzle="n06")
    assert change(own_shop, later, effective_from=MONDAY).status_code == 201
    now = of_machine("small-2", rate_per_hour=1, power_w=1)
    answer = change(own_shop, removed("n06"), now, based_on=2)
    kind, faults = refused(answer)
    ((place, detail),) = faults
    assert (answer.status_code, kind, place) == (422, "invalid-request", "")
    assert "machines/large/usual_nozzle: unknown code 'n06'" in detail
    assert "planned for 2026-12-07" in detail
    single = put(own_shop, f"{RATES}/machines/small-2", now["value"], seen(FIRST))
    assert single.status_code == 200
    answer = own_shop.ask("DELETE", f"{RATES}/nozzles/n06", "rates", headers=seen(FIRST))
    assert (answer.status_code, "planned for 2026-12-07" in answer.text) == (422, True)
    assert newest(own_shop) == 3

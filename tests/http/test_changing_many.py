"""Several changes make one revision, all or none; what stands in the way is told in its place."""

from typing import Any

import pytest

from gramhour.contract.rates import KINDS
from tests.http.asking import (
    DEARER,
    GREEN,
    LABOUR,
    MONDAY,
    NEW,
    POWER,
    RATES,
    TODAY,
    change,
    newest,
    of_machine,
    put,
    refused,
    removed,
    value_of,
)
from tests.http.door import Door

AMBER: dict[str, Any] = {
    "kind": "materials",
    "code": "petg-amber",
    "value": {"price_per_kg": "24.90"},
}
WITHOUT_GREEN = {"kind": "materials", "code": "asa-green", "value": None}
SAME = {"kind": "shop", "code": "price_per_kwh", "value": 0.31}
WITH_COLOUR = {"price_per_kg": "1", "colour": "x"}
THREE = (DEARER, AMBER, WITHOUT_GREEN)
CHANGED = [
    {"kind": "materials", "code": "asa-green", "done": "removed"},
    {"kind": "shop", "code": "labour_rate_per_hour", "done": "changed", "before": "32.00",
     "after": "33.50"},
    {"kind": "materials", "code": "petg-amber", "done": "added", "after": AMBER["value"]},
]  # fmt: skip


def test_several_changes_make_one_revision_in_force_from_their_day(own_shop: Door) -> None:
    green = value_of(own_shop, GREEN)
    answer = change(own_shop, *THREE, effective_from=MONDAY, note="winter list")
    assert (answer.status_code, answer.headers["location"]) == (201, "/v1/revisions/2")
    assert answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert told.pop("changes") == [{**CHANGED[0], "before": green}, *CHANGED[1:]]
    assert told == {
        "rates_revision": 2, "trial": False, "effective_from": MONDAY, "overruled_by": [],
        "cautions": [],
    }  # fmt: skip
    assert own_shop.ask("GET", answer.headers["location"], "cost").json() == {
        "rates_revision": 2, "known_since": "2026-12-01T09:00:00Z", "effective_from": MONDAY,
        "made_by": "rates", "note": "winter list", "changes": 3,
    }  # fmt: skip
    assert (value_of(own_shop, LABOUR), value_of(own_shop, GREEN)) == ("32.00", green)
    assert value_of(own_shop, LABOUR, rates_on=MONDAY) == "33.50"
    assert own_shop.ask("GET", GREEN, "cost", params={"rates_on": MONDAY}).status_code == 404


@pytest.mark.parametrize("more", [{}, {"effective_from": MONDAY, "note": "winter list"}], ids=repr)
def test_a_trial_answers_as_the_save_does_and_saves_nothing(
    own_shop: Door, more: dict[str, Any]
) -> None:
    before = own_shop.ask("GET", RATES, "cost").content
    trials = [change(own_shop, *THREE, trial=True, **more) for _ in range(2)]
    assert [(answer.status_code, "location" in answer.headers) for answer in trials] == [
        (200, False), (200, False)
    ]  # fmt: skip
    assert trials[0].content == trials[1].content
    assert (newest(own_shop), own_shop.ask("GET", RATES, "cost").content) == (1, before)
    saved = change(own_shop, *THREE, **more)
    assert saved.status_code == 201
    assert trials[0].json() == {**saved.json(), "trial": True}


def test_what_differs_in_nothing_makes_no_revision(shop: Door) -> None:
    labour = {**DEARER, "value": "32.0"}
    for trial in (False, True):
        answer = change(shop, SAME, labour, trial=trial)
        assert (answer.status_code, "location" in answer.headers) == (200, False)
        assert answer.json() == {
            "trial": trial, "effective_from": TODAY, "changes": [], "overruled_by": [],
        "cautions": [],
        }  # fmt: skip
    assert newest(shop) == 1


def test_of_several_only_those_that_differ_are_told_and_kept(own_shop: Door) -> None:
    told = change(own_shop, SAME, DEARER).json()
    assert [each["code"] for each in told["changes"]] == ["labour_rate_per_hour"]
    assert own_shop.ask("GET", "/v1/revisions/2", "cost").json()["changes"] == 1


FAULTS: dict[str, tuple[list[Any], list[tuple[str, str]]]] = {
    "faults in three changes": (
        [DEARER, {**AMBER, "value": WITH_COLOUR},
         of_machine("large", rate_per_hour=1, power_w=-1), {**DEARER, "code": "labour"}],
        [("/changes/1/value/colour", "unknown member"), ("/changes/2/value/power_w", ""),
         ("/changes/3", "labour")],
    ),
    "changed twice": (
        [DEARER, AMBER, {**DEARER, "value": 1}],
        [("/changes/2", "shop/labour_rate_per_hour is changed twice")],
    ),
    "changed and taken away": (
        [AMBER, removed("petg-amber", "materials")],
        [("/changes/1", "materials/petg-amber is changed twice")],
    ),
    "taken away where it is not": (
        [DEARER, removed("n99"), removed("n04", "machines")],
        [("/changes/1", f"there is no nozzles/n99 to take away on {TODAY}"),
         ("/changes/2", f"there is no machines/n04 to take away on {TODAY}")],
    ),
    "faults of every sort at once": (
        [removed("n99"), DEARER, DEARER, {**AMBER, "value": WITH_COLOUR}],
        [("/changes/0", "there is no nozzles/n99"), ("/changes/2", "changed twice"),
         ("/changes/3/value/colour", "unknown member")],
    ),
    "what others need": (
        [removed("n04"), removed("n08")],
        [("", "machines/small-1/usual_nozzle: unknown code 'n04'"),
         ("", "machines/large/usual_nozzle: unknown code 'n08'"),
         ("", "profiles/fine-04/flow_limits/0/nozzle: unknown code 'n04'"),
         ("", "profiles/fine-04/flow_limits/1/nozzle: unknown code 'n04'"),
         ("", "services/own-parts/nozzle: unknown code 'n04'")],
    ),
    "what the sheet cannot do without": (
        [removed("labour_rate_per_hour", "shop")], [("", "labour_rate_per_hour")]),
    "a code of none": (
        [of_machine("third", rate_per_hour=1, power_w=1, usual_nozzle="n99")],
        [("/changes/0/value/usual_nozzle", "unknown code 'n99'")],
    ),
    "a code taken away beside it": (
        [of_machine("third", rate_per_hour=1, power_w=1, usual_nozzle="n06"),
         of_machine("small-2", rate_per_hour=1, power_w=1), removed("n06")],
        [("/changes/0/value/usual_nozzle", "unknown code 'n06'")],
    ),
    "no kind": ([{**AMBER, "kind": "filaments"}], [("/changes/0/kind", "")]),
    "a filament for a profile": (
        [{**AMBER, "kind": "profiles"}],
        [("/changes/0/value/price_per_kg", "unknown member"),
         *((f"/changes/0/value/{name}", "is missing") for name in (
             "layer_mm", "bead_width_mm", "outlines", "solid_layers", "fill_pct", "speed_mm_s"))]),
    "a code of capitals": ([{**AMBER, "code": "Amber"}], [("/changes/0/code", "'Amber'")]),
    "no value": ([{"kind": "shop", "code": "currency"}], [("/changes/0", "give exactly one of")]),
    "a member too many": ([{**DEARER, "from": MONDAY}], [("/changes/0/from", "unknown member")]),
    "nothing": ([], [("/changes", "")]),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "expected"), FAULTS.values(), ids=list(FAULTS))
def test_every_fault_is_told_in_its_place_and_nothing_is_saved(
    shop: Door, changes: list[Any], expected: list[tuple[str, str]]
) -> None:
    for trial in (False, True):
        answer = change(shop, *changes, trial=trial)
        kind, faults = refused(answer)
        assert (kind, answer.status_code) == ("invalid-request", 422)
        assert sorted(str(place) for place, _ in faults) == sorted(place for place, _ in expected)
        for place, words in expected:
            assert any(place == at and words in detail for at, detail in faults), faults
    assert newest(shop) == 1


@pytest.mark.parametrize("kind", KINDS)
def test_the_name_of_a_kind_is_no_sheet_wide_rate(own_shop: Door, kind: str) -> None:
    before = own_shop.ask("GET", f"{RATES}/{kind}", "cost").json()["rates"]
    one = {"box": {"offers": [{"price": 1}]}} if kind == "components" else {}
    for value in ({}, one, before):
        answer = change(own_shop, {"kind": "shop", "code": kind, "value": value})
        assert (answer.status_code, answer.json()["errors"][0]["pointer"][:10]) == (
            422, "/changes/0"
        )  # fmt: skip
        single = put(own_shop, f"{RATES}/shop/{kind}", value, NEW)
        assert single.status_code in (404, 422)
    assert own_shop.ask("GET", f"{RATES}/{kind}", "cost").json()["rates"] == before
    assert newest(own_shop) == 1


def test_a_change_based_on_an_older_revision_is_told_what_changed_since(own_shop: Door) -> None:
    assert change(own_shop, DEARER, note="agreed").status_code == 201
    assert change(own_shop, AMBER, based_on=2, effective_from=MONDAY).status_code == 201
    expected = {
        2: ("revision 2 by rates changes shop/labour_rate_per_hour from 2026-12-01: agreed"),
        3: "revision 3 by rates changes materials/petg-amber from 2026-12-07",
    }
    power = {**SAME, "value": "0.40"}
    for based_on, since in ((1, [2, 3]), (2, [3])):
        for trial in (False, True):
            answer = change(own_shop, power, based_on=based_on, trial=trial)
            assert answer.status_code == 409
            places = [("/based_on_revision", expected[number]) for number in since]
            assert refused(answer) == ("moved-on", places)
    assert (value_of(own_shop, POWER), newest(own_shop)) == ("0.31", 3)
    assert change(own_shop, power, based_on=3).status_code == 201


def test_a_revision_to_come_cannot_be_known(shop: Door) -> None:
    answer = change(shop, DEARER, based_on=2)
    assert answer.status_code == 422
    detail = "there is no such revision yet; the newest is 1"
    assert refused(answer) == ("invalid-request", [("/based_on_revision", detail)])


def test_a_change_of_no_kind_hides_no_fault_of_the_others(shop: Door) -> None:
    changes = [
        {"kind": "material", "code": "asa", "value": {}},
        {"kind": "materials", "code": "asa", "value": {"price_per_kg": 30, "named": "ASA"}},
        {"kind": "nozzles", "code": "n10", "value": {"price": -1}},
    ]
    sent = {"based_on_revision": 1, "changes": changes}
    kind, faults = refused(shop.ask("POST", "/v1/rate-changes", "rates", json=sent))
    assert kind == "invalid-request"
    places = ["/changes/0/kind", "/changes/1/value/named", "/changes/2/value/price"]
    assert [place for place, _ in faults] == places

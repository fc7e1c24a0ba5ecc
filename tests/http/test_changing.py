"""One rate is changed, made or taken away by whoever has seen what it was, and by nobody else."""

import httpx
import pytest

from tests.http.asking import (
    FIRST,
    FRIDAY,
    GREEN,
    LABOUR,
    MONDAY,
    NEW,
    POWER,
    RATES,
    TODAY,
    delete,
    newest,
    put,
    refused,
    seen,
    tag_of,
    value_of,
)
from tests.http.door import BOUND, Door, problem_of, secret

KEY = ("Authorization", f"Bearer {secret('rates')}")
MADE = f"{RATES}/materials/petg-amber"
BY_ITS_OWN_TAG = [
    FIRST,
    f"W/{FIRST}",
    f'"r0@2020-01-01", {FIRST}',
    f'{FIRST} , W/"other"',
    f',, W/{FIRST},"x"',
]
NOT_BY_ITS_TAG = {
    "neither header": {},
    "any state": {"If-Match": "*"},
    "any state among tags": {"If-Match": f"{FIRST}, *"},
    "any state, and new": {"If-Match": "*", "If-None-Match": "*"},
    "an empty header": {"If-Match": ""},
    "nothing but commas": {"If-Match": " , ,"},
    "none of a tag": {"If-None-Match": FIRST},
}


def told(answer: httpx.Response, status: int) -> dict[str, object]:
    assert answer.status_code == status, answer.text
    assert answer.headers["cache-control"] == "no-store"
    told: dict[str, object] = answer.json()
    return told


@pytest.mark.parametrize("headers", NOT_BY_ITS_TAG.values(), ids=list(NOT_BY_ITS_TAG))
@pytest.mark.parametrize("path", [LABOUR, MADE])
def test_nothing_is_overwritten_unseen(shop: Door, path: str, headers: dict[str, str]) -> None:
    for answer in (put(shop, path, "40", headers), delete(shop, path, headers)):
        assert problem_of(answer)[0] == "precondition-needed"
        assert answer.status_code == 428
    assert newest(shop) == 1


@pytest.mark.parametrize("tags", BY_ITS_OWN_TAG)
def test_a_rate_is_changed_by_its_tag_however_it_is_written(own_shop: Door, tags: str) -> None:
    answer = put(own_shop, LABOUR, "33.50", seen(tags), note="collective agreement")
    assert told(answer, 200) == {
        "rates_revision": 2, "rates_on": TODAY, "kind": "shop", "code": "labour_rate_per_hour",
        "changed_in": 2, "in_force_from": TODAY, "value": "33.50", "overruled_by": [],
        "cautions": [],
    }  # fmt: skip
    assert answer.headers["etag"] == '"r2@2026-12-01"' == tag_of(own_shop, LABOUR)
    assert "location" not in answer.headers
    assert tag_of(own_shop, POWER) == FIRST
    revision = own_shop.ask("GET", "/v1/revisions/2", "cost").json()
    assert (revision["made_by"], revision["note"]) == ("rates", "collective agreement")


def test_a_tag_in_several_lines_is_one_list(own_shop: Door) -> None:
    lines = [("If-Match", '"a"'), ("If-Match", FIRST), KEY]
    request = httpx.Request("PUT", f"http://{BOUND}{LABOUR}", headers=lines, json="33.50")
    assert told(own_shop.send(request), 200)["value"] == "33.50"


@pytest.mark.parametrize(
    "tag", ['"r0@2020-01-01"', '"r1@2026-12-02"', '"r2@2026-12-01"', FIRST.strip('"'), "W/", '""']
)
def test_a_tag_that_is_not_the_rates_changes_nothing_and_is_told_who_changed_it(
    shop: Door, tag: str
) -> None:
    expected = f"it is {FIRST} by now: revision 1 by tests changes shop/price_per_kwh from {TODAY}"
    for answer in (put(shop, POWER, "0.40", seen(tag)), delete(shop, POWER, seen(tag))):
        if tag == "W/":  # which is no tag at all
            assert answer.status_code == 428
        else:
            assert answer.status_code == 412
            assert refused(answer) == ("precondition-failed", [(None, expected)])
    assert newest(shop) == 1


def test_the_second_of_two_who_saw_the_same_is_told_what_the_first_did(own_shop: Door) -> None:
    told(put(own_shop, LABOUR, "33", seen(FIRST), note="agreed in the team"), 200)
    answer = put(own_shop, LABOUR, "34", seen(FIRST))
    assert refused(answer) == ("precondition-failed", [(
        None,
        'it is "r2@2026-12-01" by now: revision 2 by rates changes shop/labour_rate_per_hour '
        "from 2026-12-01: agreed in the team",
    )])  # fmt: skip
    assert value_of(own_shop, LABOUR) == "33"


def test_two_who_change_two_rates_do_not_collide(own_shop: Door) -> None:
    assert told(put(own_shop, LABOUR, "33", seen(FIRST)), 200)["rates_revision"] == 2
    assert told(put(own_shop, POWER, "0.33", seen(FIRST)), 200)["rates_revision"] == 3
    assert (value_of(own_shop, LABOUR), value_of(own_shop, POWER)) == ("33", "0.33")


def test_a_new_rate_is_made_once(own_shop: Door) -> None:
    amber = {"price_per_kg": "24.90", "density_g_cm3": 1.27}
    answer = put(own_shop, MADE, amber, NEW, note="first spool")
    assert told(answer, 201)["value"] == {"price_per_kg": "24.90", "density_g_cm3": "1.27"}
    assert answer.headers["etag"] == '"r2@2026-12-01"'
    again = put(own_shop, MADE, {"price_per_kg": 25}, NEW)
    assert refused(again) == ("precondition-failed", [(
        None,
        'it is "r2@2026-12-01" by now: revision 2 by rates changes materials/petg-amber '
        "from 2026-12-01: first spool",
    )])  # fmt: skip
    assert newest(own_shop) == 2


def test_a_rate_that_is_not_there_cannot_be_changed_by_a_tag(shop: Door) -> None:
    answer = put(shop, MADE, {"price_per_kg": 25}, seen(FIRST))
    assert problem_of(answer)[0] == "precondition-failed"
    assert newest(shop) == 1


@pytest.mark.parametrize("headers", [seen(FIRST), seen('"r0@2020-01-01"'), NEW])
@pytest.mark.parametrize("value", ["32", "32.00", 32, 32.0], ids=repr)
def test_what_is_so_already_is_answered_whatever_the_tag_and_makes_no_revision(
    shop: Door, value: object, headers: dict[str, str]
) -> None:
    answer = put(shop, LABOUR, value, headers, note="said twice")
    assert told(answer, 200)["changed_in"] == 1
    assert answer.headers["etag"] == FIRST
    assert newest(shop) == 1


def test_a_put_that_is_repeated_after_a_lost_answer_meets_its_own_success(own_shop: Door) -> None:
    first = told(put(own_shop, LABOUR, "33", seen(FIRST)), 200)
    assert told(put(own_shop, LABOUR, "33", seen(FIRST)), 200) == first
    made = told(put(own_shop, MADE, {"price_per_kg": "25"}, NEW), 201)
    assert told(put(own_shop, MADE, {"price_per_kg": "25"}, NEW), 200) == made
    assert newest(own_shop) == 3


def test_a_rate_that_is_there_is_not_new_whatever_else_was_seen(shop: Door) -> None:
    both = put(shop, LABOUR, "40", {**seen(FIRST), **NEW})  # RFC 9110, 13.2.2
    assert (problem_of(both)[0], both.status_code) == ("precondition-failed", 412)
    new = delete(shop, LABOUR, NEW)
    assert (problem_of(new)[0], new.status_code) == ("precondition-needed", 428)
    assert newest(shop) == 1


def test_a_rate_is_sent_as_json_and_is_never_null(own_shop: Door) -> None:
    toml = {"Content-Type": "application/toml", **NEW}
    text = 'name = "amber"\nprice_per_kg = 24.90'
    answer = own_shop.ask("PUT", MADE, "rates", content=text, headers=toml)
    assert (problem_of(answer)[0], answer.status_code) == ("unsupported-media-type", 415)
    sent = {"Content-Type": "application/json", **NEW}
    null = own_shop.ask("PUT", MADE, "rates", content="null", headers=sent)
    assert (problem_of(null)[0], null.status_code) == ("invalid-request", 422)
    assert newest(own_shop) == 1


def test_what_is_so_already_names_the_newest_revision_as_reading_it_does(own_shop: Door) -> None:
    told(put(own_shop, POWER, "0.33", seen(FIRST)), 200)
    same = told(put(own_shop, LABOUR, "32", seen(FIRST)), 200)
    read = own_shop.ask("GET", LABOUR, "cost").json()
    assert same == {**read, "overruled_by": [], "cautions": []}


def test_mondays_value_is_not_taken_for_fridays(own_shop: Door) -> None:
    told(put(own_shop, LABOUR, "40", seen(FIRST), effective_from=MONDAY), 200)
    of_friday, of_monday = (tag_of(own_shop, LABOUR, rates_on=day) for day in (FRIDAY, MONDAY))
    assert (of_friday, of_monday) == (FIRST, '"r2@2026-12-07"')
    for day, wrong in ((FRIDAY, of_monday), (TODAY, of_monday), (MONDAY, of_friday)):
        answer = put(own_shop, LABOUR, "41", seen(wrong), effective_from=day)
        assert answer.status_code == 412
    changed = told(put(own_shop, LABOUR, "35", seen(of_friday), effective_from=FRIDAY), 200)
    assert (changed["in_force_from"], changed["rates_on"]) == (FRIDAY, FRIDAY)
    assert changed["overruled_by"] == [{
        "kind": "shop", "code": "labour_rate_per_hour", "effective_from": MONDAY,
        "rates_revision": 2, "value": "40",
    }]  # fmt: skip
    later = told(put(own_shop, LABOUR, "42", seen(of_monday), effective_from="2026-12-09"), 200)
    assert later["overruled_by"] == []
    days = (TODAY, FRIDAY, MONDAY, "2026-12-08", "2026-12-09")
    values = [value_of(own_shop, LABOUR, rates_on=day) for day in days]
    assert values == ["32.00", "35", "40", "40", "42"]


def test_a_planned_change_is_withdrawn_by_the_value_before_it_on_the_same_day(
    own_shop: Door,
) -> None:
    told(put(own_shop, LABOUR, "40", seen(FIRST), effective_from=MONDAY), 200)
    told(put(own_shop, LABOUR, "32", seen('"r2@2026-12-07"'), effective_from=MONDAY), 200)
    assert value_of(own_shop, LABOUR, rates_on=MONDAY) == "32"
    told(put(own_shop, MADE, {"price_per_kg": 25}, NEW, effective_from=MONDAY), 201)
    assert delete(own_shop, MADE, seen('"r4@2026-12-07"'), effective_from=MONDAY).status_code == 204
    assert own_shop.ask("GET", MADE, "cost", params={"rates_on": MONDAY}).status_code == 404


def test_a_rate_is_taken_away_and_what_it_was_stays_readable(own_shop: Door) -> None:
    answer = delete(own_shop, GREEN, seen(f"W/{FIRST}"), note="sold out")
    assert (answer.status_code, answer.content) == (204, b"")
    assert own_shop.ask("GET", GREEN, "cost").status_code == 404
    assert value_of(own_shop, GREEN, rates_revision="1")["name"] == "ASA, herb green"
    for headers in (seen(FIRST), seen('"r2@2026-12-01"')):
        again = delete(own_shop, GREEN, headers)
        assert (problem_of(again)[0], again.status_code) == ("unknown-rate", 404)
    assert newest(own_shop) == 2


def test_a_rate_that_never_was_cannot_be_taken_away(shop: Door) -> None:
    for path in (MADE, f"{RATES}/no-such-kind/x", f"{RATES}/shop/no-such-member"):
        answer = delete(shop, path, seen(FIRST))
        assert (problem_of(answer)[0], answer.status_code) == ("unknown-rate", 404)

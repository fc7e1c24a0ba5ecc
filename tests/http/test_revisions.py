"""Who changed the rates, when and why, and what a revision changed, member by member."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace

from gramhour_service.answer.quoting import answer_quote
from gramhour_service.http.settings import Settings
from tests import demo
from tests.http.asking import DEARER, FRIDAY, MONDAY, REVISIONS, TODAY, change, refused
from tests.http.door import Door, make_shop, opened, problem_of

PAGES = 23
GREEN = {"kind": "materials", "code": "asa-green"}
OF_GREEN = {
    "name": "ASA, herb green", "density_g_cm3": "1.07", "failure_factor": "1.5",
    "offer": {"pack_g": 1000, "list_price": "29.40", "tail_g": 15,
              "tiers": [{"from_packs": 3, "discount_pct": 4}]},
}  # fmt: skip


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """A shop of 23 revisions."""
    path = make_shop(tmp_path_factory.mktemp("many") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        for number in range(2, PAGES + 1):
            value = {**DEARER, "value": number}
            assert change(door, value, based_on=number - 1, note=f"n{number}").status_code == 201
        yield door


def listed(door: Door, **query: Any) -> dict[str, Any]:
    answer = door.ask("GET", REVISIONS, "cost", params=query)
    assert answer.status_code == 200
    told: dict[str, Any] = answer.json()
    return told


@pytest.mark.parametrize("limit", [1, 2, 7, PAGES - 1, PAGES, PAGES + 1, 500])
def test_walking_the_pages_meets_every_revision_once_the_newest_first(
    many: Door, limit: int
) -> None:
    seen, query, pages = [], {"limit": limit}, 0
    while True:
        page = listed(many, **query)
        pages += 1
        assert 1 <= len(page["items"]) <= limit
        seen += [item["rates_revision"] for item in page["items"]]
        if "next_cursor" not in page:
            break
        query["cursor"] = page["next_cursor"]
    assert seen == list(range(PAGES, 0, -1))
    assert pages == -(-PAGES // limit)


def test_a_walk_is_not_disturbed_by_a_revision_that_is_made_meanwhile(own_shop: Door) -> None:
    for number in (2, 3):
        change(own_shop, {**DEARER, "value": number}, based_on=number - 1)
    first = listed(own_shop, limit=2)
    change(own_shop, DEARER, based_on=3)
    second = listed(own_shop, limit=2, cursor=first["next_cursor"])
    numbers = [item["rates_revision"] for item in first["items"] + second["items"]]
    assert (numbers, "next_cursor" in second) == ([3, 2, 1], False)


def test_a_revision_says_who_when_from_which_day_and_why(many: Door) -> None:
    items = listed(many)["items"]
    assert items[0] == {
        "rates_revision": PAGES, "known_since": "2026-12-01T09:00:00Z", "effective_from": TODAY,
        "made_by": "rates", "note": f"n{PAGES}", "changes": 1,
    }  # fmt: skip
    assert (items[-1]["made_by"], items[-1]["note"]) == ("tests", "")
    for item in items:
        one = many.ask("GET", f"{REVISIONS}/{item['rates_revision']}", "cost")
        assert one.json() == item


@pytest.mark.parametrize("name", ["limit", "cursor"])
@pytest.mark.parametrize("value", ["0", "-1", "x", "1.0", "", "9" * 30])
def test_a_page_that_is_none_is_told(many: Door, name: str, value: str) -> None:
    answer = many.ask("GET", REVISIONS, "cost", params={name: value})
    assert (answer.status_code, refused(answer)[1][0][0]) == (422, name)
    assert many.ask("GET", REVISIONS, "cost", params={"limit": 501}).status_code == 422


@pytest.mark.parametrize("path", ["", f"?limit={PAGES}", "/2", "/2/changes", "/9/changes?since=0"])
def test_revisions_have_a_tag(many: Door, path: str) -> None:
    answer = many.ask("GET", f"{REVISIONS}{path}", "cost")
    assert answer.headers["cache-control"] == "no-store"
    tag = {"If-None-Match": f"W/{answer.headers['etag']}"}
    again = many.ask("GET", f"{REVISIONS}{path}", "cost", headers=tag)
    assert (again.status_code, again.content) == (304, b"")
    head = many.ask("HEAD", f"{REVISIONS}{path}", "cost")
    assert (head.status_code, head.headers["etag"]) == (200, answer.headers["etag"])


def changes(door: Door, number: int, **query: Any) -> list[dict[str, Any]]:
    answer = door.ask("GET", f"{REVISIONS}/{number}/changes", "cost", params=query)
    told = answer.json()
    assert (told["rates_revision"], told["since"]) == (number, query.get("since", number - 1))
    listed: list[dict[str, Any]] = told["changes"]
    return listed


def test_what_a_revision_changed_is_told_member_by_member(own_shop: Door) -> None:
    before = own_shop.ask("GET", "/v1/rates/materials/asa-green", "cost").json()["value"]
    amber = {"kind": "materials", "code": "petg-amber", "value": {"price_per_kg": "24.90"}}
    gone = {"kind": "components", "code": "glue", "value": None}
    glue = own_shop.ask("GET", "/v1/rates/components/glue", "cost").json()["value"]
    change(own_shop, {**GREEN, "value": OF_GREEN}, amber, gone, DEARER, effective_from=MONDAY)
    at = {"effective_from": MONDAY}
    assert changes(own_shop, 2) == [
        {"kind": "components", "code": "glue", **at, "done": "removed",
         "members": [{"pointer": "", "before": glue}]},
        {**GREEN, **at, "done": "changed", "members": [
            {"pointer": "/diameter_mm", "before": "1.75"},
            {"pointer": "/failure_factor", "before": "1.2", "after": "1.5"},
            {"pointer": "/first_pass_yield_pct", "before": "98"},
            {"pointer": "/offer/free_shipping_from_packs", "before": 6},
            {"pointer": "/offer/list_price", "before": "27.40", "after": "29.40"},
            {"pointer": "/offer/rebate_pct", "before": "2"},
            {"pointer": "/offer/shipping_per_purchase", "before": "6.90"},
            {"pointer": "/offer/tiers", "before": before["offer"]["tiers"],
             "after": [{"from_packs": 3, "discount_pct": "4"}]},
            {"pointer": "/offer/usual_packs", "before": 6},
        ]},
        {"kind": "materials", "code": "petg-amber", **at, "done": "added",
         "members": [{"pointer": "", "after": {"price_per_kg": "24.90"}}]},
        {"kind": "shop", "code": "labour_rate_per_hour", **at, "done": "changed",
         "members": [{"pointer": "", "before": "32.00", "after": "33.50"}]},
    ]  # fmt: skip


def test_what_changed_since_an_earlier_revision_leaves_out_what_was_put_back(many: Door) -> None:
    ((only,), (first, *_)) = changes(many, 9, since=3), changes(many, 1)
    assert only["members"] == [{"pointer": "", "before": "3", "after": "9"}]
    assert (first["done"], len(changes(many, 1))) == ("added", 40)
    whole = {(each["kind"], each["code"]): each for each in changes(many, PAGES, since=0)}
    labour = whole["shop", "labour_rate_per_hour"]["members"]
    assert labour == [{"pointer": "", "after": str(PAGES)}]


def test_what_was_changed_and_put_back_is_no_change_since(own_shop: Door) -> None:
    change(own_shop, DEARER)
    change(own_shop, {**DEARER, "value": "32.00"}, based_on=2)
    assert changes(own_shop, 3, since=1) == []
    assert changes(own_shop, 3) != []


@pytest.mark.parametrize("since", ["9", "10", "99", "-1", "x", "", "1.0"])
def test_since_must_be_an_earlier_revision(many: Door, since: str) -> None:
    answer = many.ask("GET", f"{REVISIONS}/9/changes", "cost", params={"since": since})
    assert (problem_of(answer)[0], refused(answer)[1][0][0]) == ("invalid-request", "since")


def test_a_quote_asked_for_a_revision_or_a_day_is_of_the_sheet_of_then(own_shop: Door) -> None:
    request = demo.request("herb-planter")
    assert change(own_shop, DEARER, effective_from=FRIDAY).status_code == 201
    labour = {**DEARER, "value": "36"}
    assert change(own_shop, labour, based_on=2, effective_from=MONDAY).status_code == 201
    costs = []
    for revision, day, hour in (
        (None, None, "32"), (None, "2026-12-03", "32"), (None, FRIDAY, "33.50"),
        (None, MONDAY, "36"), (2, MONDAY, "33.50"), (1, MONDAY, "32"), (3, "2026-12-06", "33.50"),
    ):  # fmt: skip
        pins = {"rates_revision": revision, "rates_on": day}
        sent = request | {name: value for name, value in pins.items() if value is not None}
        answer = own_shop.ask("POST", "/v1/quotes", "cost", content=msgspec.json.encode(sent),
                              headers={"Content-Type": "application/json"})  # fmt: skip
        sheet = replace(demo.sheet(), labour_rate_per_hour=Decimal(hour))
        expected = msgspec.to_builtins(answer_quote(request, sheet))
        told = answer.json()
        assert (told["rates_revision"], told["rates_on"]) == (revision or 3, day or TODAY)
        assert told["breaks"] == msgspec.json.decode(msgspec.json.encode(expected["breaks"]))
        costs.append(told["breaks"][0]["cost"]["labour"])
    assert len(set(costs)) == 3

"""POST /v1/quotes answers what the calculation answers, by the rates that are asked for."""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest
from msgspec import UNSET
from msgspec.structs import replace

from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.sheets.rows import plain_sheet
from tests import demo
from tests.http.door import JSON, NOW, Door, add_keys, opened, problem_of, take_in

QUOTES = "/v1/quotes"
AT = Outside(NOW)
TODAY = NOW.date()
PLANTER = demo.request("herb-planter")


def plain(sent: Any) -> Any:
    """Write as JSON has it, amounts as texts."""
    return msgspec.json.decode(msgspec.json.encode(sent))


def encoded(name: str, *, explain: bool = False) -> bytes:
    """Answer a demo request by the calculation itself."""
    quote = answer_quote(
        demo.request(name), demo.sheet(), revision=1, on=TODAY, outside=AT, explain=explain
    )
    return msgspec.json.encode(quote)


def quoted(door: Door, sent: Any, query: str = "") -> dict[str, Any]:
    answer = door.ask("POST", QUOTES + query, "cost", json=plain(sent))
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


@pytest.mark.parametrize("name", demo.NAMES)
def test_the_demos_requests_are_answered_as_they_are_calculated(shop: Door, name: str) -> None:
    answer = shop.ask("POST", QUOTES, "cost", json=plain(demo.request(name)))
    assert (answer.status_code, answer.headers["content-type"]) == (200, JSON)
    assert answer.content == encoded(name)


@pytest.mark.parametrize("name", demo.NAMES)
def test_a_request_may_be_sent_as_toml(shop: Door, name: str) -> None:
    content = (demo.FOLDER / f"{name}.toml").read_bytes()
    headers = {"Content-Type": "application/toml"}
    answer = shop.ask("POST", QUOTES, "cost", content=content, headers=headers)
    assert answer.content == encoded(name)


def test_numbers_may_be_numbers_or_texts_and_are_read_exactly(shop: Door) -> None:
    answers = {
        shop.ask("POST", QUOTES, "cost", content=content, headers={"Content-Type": JSON}).content
        for content in (
            msgspec.json.encode({**plain(PLANTER), "discount_pct": "2.000000001"}),
            msgspec.json.encode({**plain(PLANTER), "discount_pct": "x"}).replace(
                b'"x"', b"2.000000001"
            ),
        )
    }
    assert len(answers) == 1


@pytest.mark.parametrize("name", demo.NAMES)
def test_on_request_each_figure_is_explained(shop: Door, name: str) -> None:
    answer = shop.ask("POST", f"{QUOTES}?explain=true", "cost", json=plain(demo.request(name)))
    assert answer.content == encoded(name, explain=True)
    assert answer.json()["breaks"][0]["explain"]


TOLD_TO_BUYERS = {"currency", "at_quantity", "breaks", "basis", "cautions", "valid_until",
                  "lead_time"}  # fmt: skip
TOLD_OF_A_BREAK = {
    "quantity", "unit_price", "unit_price_net", "order_goods", "order_postage", "order_net",
    "order_tax", "order_gross", "flags",
}  # fmt: skip
FLAGS = {"minimum_order_applied", "above_smaller_break", "next_total_is_lower"}
"""The contract's list of the price view; the seal comes later."""


@pytest.mark.parametrize("name", demo.NAMES)
def test_the_price_view_has_the_members_that_the_contract_lists_and_no_others(
    shop: Door, name: str
) -> None:
    shown = quoted(shop, demo.request(name), "?view=price")
    assert shown.keys() == TOLD_TO_BUYERS
    assert shown["lead_time"].keys() == {"ready_on"}
    for each in (shown["at_quantity"], *shown["breaks"]):
        assert each.keys() == TOLD_OF_A_BREAK
        assert {*each["flags"]} <= FLAGS
    assert not [each for each in shown["basis"] if each["pointer"].startswith("/rate")]
    whole = answer_quote(demo.request(name), demo.sheet(), revision=1, on=TODAY, outside=AT)
    assert shown == plain(price_view(whole))


def test_the_cost_view_may_be_named(shop: Door) -> None:
    assert quoted(shop, PLANTER, "?view=cost") == quoted(shop, PLANTER)


def test_a_request_may_bring_its_rates_where_none_are_stored(tmp_path: Path) -> None:
    sent = {**plain(PLANTER), "rates": plain(plain_sheet(demo.sheet()))}
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        told = quoted(door, sent)
        assert problem_of(door.ask("POST", QUOTES, "cost", json=plain(PLANTER)))[0] == "no-rates"
    expected = plain(answer_quote(sent, on=TODAY, outside=AT))
    assert told == expected
    assert "rates_revision" not in told
    for figures in ("at_quantity", "breaks"):
        assert told[figures] == msgspec.json.decode(encoded("herb-planter"))[figures]


def test_rates_that_are_brought_go_before_the_stored_ones(shop: Door) -> None:
    own = replace(demo.sheet(), labour_rate_per_hour=Decimal(64))
    told = quoted(shop, {**plain(PLANTER), "rates": plain(plain_sheet(own))})
    assert told == plain(answer_quote(PLANTER, own, on=TODAY, outside=AT)) | {
        "basis": told["basis"]
    }
    assert told["at_quantity"]["cost"] != quoted(shop, PLANTER)["at_quantity"]["cost"]


def test_faults_of_brought_rates_are_told_where_they_stand(shop: Door) -> None:
    own = plain(plain_sheet(demo.sheet())) | {"currency": "XQZ", "labour_rate_per_hour": -1}
    own["channels"]["own-shop"]["aims"] = {}
    sent = {**plain(PLANTER), "rates": own}
    _, faults = problem_of(shop.ask("POST", QUOTES, "cost", json=sent))
    assert {"/rates/labour_rate_per_hour", "/rates/channels/own-shop/aims"} <= {
        fault["pointer"] for fault in faults
    }


GREEN = plain(plain_sheet(demo.sheet()))["materials"]["asa-green"]


def test_an_override_changes_the_named_rates_only(shop: Door) -> None:
    green = {**{k: v for k, v in GREEN.items() if k != "offer"}, "price_per_kg": "31"}
    what_if = {"labour_rate_per_hour": "40", "materials": {"asa-green": green}}
    changed = plain(plain_sheet(demo.sheet())) | {"labour_rate_per_hour": "40"}
    changed["materials"]["asa-green"] = green
    told = quoted(shop, {**plain(PLANTER), "rate_overrides": what_if})
    expected = plain(answer_quote({**plain(PLANTER), "rates": changed}, on=TODAY))
    for figures in ("at_quantity", "breaks", "cautions", "valid_until"):
        assert told[figures] == expected[figures]
    assert told["rates_revision"] == 1


def test_what_is_overridden_is_pointed_to_where_it_stands(shop: Door) -> None:
    green = {name: GREEN[name] for name in ("name", "density_g_cm3")} | {"price_per_kg": "31"}
    what_if = {"labour_rate_per_hour": "40", "materials": {"asa-green": green}}
    told = quoted(shop, {**plain(PLANTER), "rate_overrides": what_if}, "?explain=true")
    basis = {each["pointer"] for each in told["basis"]}
    assert "/rate_overrides/materials/asa-green/first_pass_yield_pct" in basis
    assert "/rates/components/wick/offers/0/from_packs" in basis
    read = {each["pointer"] for line in told["at_quantity"]["explain"] for each in line["inputs"]}
    assert {
        "/rate_overrides/labour_rate_per_hour",
        "/rate_overrides/materials/asa-green/price_per_kg",
        "/rates/price_per_kwh",
    } <= read
    for pointer in ("/rates/labour_rate_per_hour", "/rates/materials/asa-green"):
        assert not [each for each in basis | read if each.startswith(pointer)]


def test_a_revision_and_a_day_pin_a_quote_to_the_byte(own_shop: Door, own_path: Path) -> None:
    at = {"from": NOW.isoformat()}
    sent = {**plain(PLANTER), "rates_revision": 1, "rates_on": "2026-12-01", **at}
    before = own_shop.ask("POST", QUOTES, "cost", json=plain(PLANTER)).content
    assert own_shop.ask("POST", QUOTES, "cost", json=sent).content == before
    dearer = replace(demo.sheet(), labour_rate_per_hour=Decimal(40))
    take_in(own_path, dearer, effective_from=date(2026, 12, 4))
    take_in(own_path, replace(demo.sheet(), price_per_kwh=Decimal(1)))
    assert own_shop.ask("POST", QUOTES, "cost", json=plain(PLANTER)).content != before
    with opened(Settings(store=own_path), lambda: NOW + timedelta(days=300)) as later:
        for door in (own_shop, later):
            assert door.ask("POST", QUOTES, "cost", json=sent).content == before
            friday = {**plain(PLANTER), "rates_revision": 2, "rates_on": "2026-12-04", **at}
            expected = answer_quote(PLANTER, dearer, revision=2, on=date(2026, 12, 4), outside=AT)
            told = plain(expected)
            assert quoted(door, friday) == told


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"rates_revision": 2}, "/rates_revision"),
        ({"rates_revision": 0}, "/rates_revision"),
        ({"rates_revision": "1"}, "/rates_revision"),
        ({"rates_revision": True}, "/rates_revision"),
        ({"rates_on": "2026-11-30"}, "/rates_on"),
        ({"rates_on": "2026-12-32"}, "/rates_on"),
        ({"rates_on": 20261201}, "/rates_on"),
    ],
    ids=str,
)
def test_a_revision_or_day_without_rates_is_told_of(
    shop: Door, changed: dict[str, Any], pointer: str
) -> None:
    sent = {**plain(PLANTER), **changed}
    kind, faults = problem_of(shop.ask("POST", QUOTES, "cost", json=sent))
    assert kind == "invalid-request"
    assert [fault["pointer"] for fault in faults] == [pointer]


@pytest.mark.parametrize(
    ("zone", "sent", "until"),
    [
        (None, {}, "2026-12-15T23:59:59Z"),
        (None, {"valid_days": 0}, "2026-12-01T23:59:59Z"),
        (None, {"valid_days": 31, "rates_on": "2027-01-01"}, "2027-02-01T23:59:59Z"),
        ("Europe/Vienna", {}, "2026-12-15T23:59:59+01:00"),
        ("Europe/Vienna", {"rates_on": "2027-03-20"}, "2027-04-03T23:59:59+02:00"),
        ("Pacific/Auckland", {"valid_days": 1}, "2026-12-02T23:59:59+13:00"),
    ],
    ids=str,
)
def test_a_quote_holds_until_the_end_of_a_day_in_the_shop(
    own_shop: Door, own_path: Path, zone: str | None, sent: dict[str, Any], until: str
) -> None:
    take_in(own_path, replace(demo.sheet(), time_zone=UNSET if zone is None else zone))
    for view in ("cost", "price"):
        told = quoted(own_shop, {**plain(PLANTER), **sent}, f"?view={view}")
        assert told["valid_until"] == until

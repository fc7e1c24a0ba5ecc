"""Sealed prices: given with listed prices and quotes, and told good or not when they are shown."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec import json

from gramhour_service.http import sealing
from gramhour_service.http.settings import Settings
from gramhour_service.signing.keys import made_key
from gramhour_service.signing.tokens import signed
from tests.http.asking import MONDAY, change
from tests.http.door import NOW, Door, make_shop, opened
from tests.http.four_pots import POT
from tests.http.repriced import apply, list_prices, listed, repriced
from tests.seals.shown import (
    DAY,
    END_OF_14_DAYS,
    END_OF_21_DAYS,
    FREE,
    JWKS,
    LABOUR,
    PRICES,
    QUOTES,
    TYP,
    VERIFY,
    claims,
    described,
    for_sale,
    header,
    keys,
    quote,
    refusal,
    verified,
)


def test_listed_price_is_given_with_the_seal_that_was_signed_when_it_was_applied(
    shop: Door, clock: list[datetime]
) -> None:
    clock[0] = NOW + 2 * DAY
    (item,) = for_sale(shop)
    said = claims(item["seal"])
    assert header(item["seal"]) == {"alg": "Ed25519", "kid": keys(shop)[0], "typ": TYP}
    assert said.pop("iss").startswith("urn:uuid:")
    assert said == {
        "iat": int(NOW.timestamp()),
        "exp": int(END_OF_21_DAYS.timestamp()),
        "sku": "P",
        "channel": "own-shop",
        "currency": "EUR",
        "prices_include_tax": True,
        "breaks_hold": "from",
        "breaks": [
            {
                "quantity": each["from_quantity"],
                "unit_price": each["unit_price"],
                "unit_price_net": each["unit_price_net"],
            }
            for each in item["breaks"]
        ],
        "rules": "1",
        "rates_revision": 1,
        "rates_on": "2026-12-01",
    }
    assert verified(shop, item["seal"]) == {"status": "valid", "offer": claims(item["seal"])}


def test_prices_are_told_without_seals_unless_they_are_asked_for(shop: Door) -> None:
    answer = shop.ask("GET", PRICES, "price", params={"channel": "own-shop"})
    assert ["seal" in item for item in answer.json()["items"]] == [False]
    assert "seal" not in quote(shop, seal=False)


@pytest.mark.parametrize("key", ["price", "cost"])
def test_quote_of_a_sku_has_the_seal_of_its_listed_price(shop: Door, key: str) -> None:
    (item,) = for_sale(shop)
    assert quote(shop, key)["seal"] == item["seal"]


def test_described_product_is_sealed_at_its_own_quantities(shop: Door) -> None:
    told = described(shop)
    said = claims(told["seal"])
    assert (said["product"], said["channel"], said["breaks_hold"]) == ("Herb pot", "own-shop", "at")
    assert said["breaks"] == [
        {"quantity": each["quantity"], "unit_price": each["unit_price"],
         "unit_price_net": each["unit_price_net"]}
        for each in (told["at_quantity"], *told["breaks"])
    ]  # fmt: skip
    assert (said["iat"], said["exp"]) == (NOW.timestamp(), END_OF_14_DAYS.timestamp())
    assert told["valid_until"] == "2026-12-15T23:59:59+01:00"
    assert claims(described(shop, "price")["seal"]) == said
    assert verified(shop, told["seal"]) == {"status": "valid", "offer": said}


def test_each_quote_of_a_batch_has_a_seal_of_its_own_or_its_problem(shop: Door) -> None:
    asked = [FREE, {"sku": "P", "quantity": 3, "seal": True}, {**FREE, "discount_pct": 5}]
    answer = shop.ask("POST", f"{QUOTES}/batch", "cost", json={"requests": asked})
    first, second, third = answer.json()["answers"]
    assert verified(shop, first["quote"]["seal"])["offer"]["product"] == "Herb pot"
    assert verified(shop, second["quote"]["seal"])["offer"]["sku"] == "P"
    assert third["problem"]["type"] == "/problems/cannot-be-sealed"


OWN = "a sealed price is the shop's own, by its rates in force and its channel's policy"


@pytest.mark.parametrize(
    "override",
    [
        {"aim": {"margin_pct": "1"}},
        {"discount_pct": "0"},
        {"rate_overrides": {"labour_rate_per_hour": "1"}},
        {"rates_revision": 1},
        {"rates_on": "2026-12-01"},
    ],
    ids=lambda override: next(iter(override)),
)
@pytest.mark.parametrize("what", ["a product", "a sku"])
def test_what_is_not_the_shops_own_offer_is_not_sealed_and_each_reason_is_told(
    shop: Door, override: dict[str, Any], what: str
) -> None:
    asked = FREE if what == "a product" else {"sku": "P", "quantity": 3, "seal": True}
    answer = shop.ask("POST", QUOTES, "cost", json={**asked, **override})
    (name,) = override
    expected = (f"/{name}", f"{OWN}; leave this out, or ask without seal")
    assert refusal(answer) == (422, "cannot-be-sealed", [expected])


def test_quote_by_rates_of_its_own_is_not_sealed(shop: Door) -> None:
    sheet = {
        "currency": "EUR", "labour_rate_per_hour": 1, "price_per_kwh": 0,
        "channels": {"own-shop": {"prices_include_tax": True, "aim": {"margin_pct": 1}}},
    }  # fmt: skip
    product = {"name": "Work", "work": {"unit_min": 5}}
    answer = shop.ask("POST", QUOTES, "cost", json={**FREE, "rates": sheet, "product": product})
    expected = ("/rates", f"{OWN}; leave this out, or ask without seal")
    assert refusal(answer) == (422, "cannot-be-sealed", [expected])


def test_seal_says_what_it_is_for_and_holds_a_quarter_of_a_year_at_most(shop: Door) -> None:
    nameless = {name: value for name, value in POT.items() if name != "name"}
    answer = shop.ask("POST", QUOTES, "cost", json={**FREE, "product": nameless, "valid_days": 91})
    assert refusal(answer) == (422, "cannot-be-sealed", [
        ("/product/name", "is missing: a seal says by this name what it is for"),
        ("/valid_days", "a sealed price holds for at most 90 days"),
    ])  # fmt: skip
    assert claims(described(shop, valid_days=90)["seal"])["exp"] == int(
        datetime(2027, 3, 1, 23, 0, tzinfo=UTC).timestamp()
    )


def test_sku_without_a_price_is_not_sealed(shop: Door) -> None:
    listed(shop, {"sku": "N", "product": "pot", "channel": "own-shop"})
    answer = shop.ask("POST", QUOTES, "cost", json={"sku": "N", "quantity": 3, "seal": True})
    detail = "nothing is listed under it yet that could be sealed; reprice, and apply"
    assert refusal(answer) == (422, "cannot-be-sealed", [("/sku", detail)])


def test_seal_counts_up_to_its_last_second_and_not_on_the_next(
    shop: Door, clock: list[datetime]
) -> None:
    seal = quote(shop)["seal"]
    for moment, status in (
        (END_OF_21_DAYS - timedelta(microseconds=1), "valid"),
        (END_OF_21_DAYS, "expired"),
        (END_OF_21_DAYS + 400 * DAY, "expired"),
    ):
        clock[0] = moment
        assert verified(shop, seal) == {"status": status, "offer": claims(seal)}


def test_clock_that_was_set_back_makes_no_seal_invalid(shop: Door, clock: list[datetime]) -> None:
    seal = quote(shop)["seal"]
    clock[0] = NOW - timedelta(minutes=5)
    assert verified(shop, seal)["status"] == "valid"


def test_planned_price_is_sealed_from_its_day_on(shop: Door, clock: list[datetime]) -> None:
    old = quote(shop)["seal"]
    assert change(shop, LABOUR, effective_from=MONDAY).status_code == 201
    apply(shop, repriced(shop, rates_on=MONDAY)["id"])
    today, planned = for_sale(shop)
    assert today["seal"] == old
    said = claims(planned["seal"])
    starts = datetime(2026, 12, 6, 23, 0, tzinfo=UTC)
    assert (said["nbf"], said["rates_revision"], said["rates_on"]) == (
        starts.timestamp(), 2, MONDAY,
    )  # fmt: skip
    assert verified(shop, planned["seal"]) == {"status": "not_yet_valid", "offer": said}
    clock[0] = starts
    assert verified(shop, planned["seal"])["status"] == "valid"
    assert quote(shop)["seal"] == planned["seal"]
    assert verified(shop, old)["status"] == "valid"


def test_price_planned_for_long_after_is_sealed_once_its_key_outlives_the_promise(
    shop: Door, clock: list[datetime]
) -> None:
    far = "2027-02-09"  # 70 days after NOW
    assert change(shop, LABOUR, effective_from=far).status_code == 201
    apply(shop, repriced(shop, rates_on=far)["id"])
    assert ["seal" in each for each in for_sale(shop)] == [True, False]
    clock[0] = NOW + DAY
    _, planned = for_sale(shop)
    said = claims(planned["seal"])
    assert datetime.fromtimestamp(said["exp"], UTC) <= clock[0] + 92 * DAY


def test_price_that_stands_for_long_is_signed_anew_while_14_days_are_left(
    shop: Door, clock: list[datetime]
) -> None:
    first = quote(shop)["seal"]
    clock[0] = NOW + 7 * DAY
    (kept,) = for_sale(shop)
    assert kept["seal"] == first
    clock[0] = NOW + 8 * DAY
    (anew,) = for_sale(shop)
    assert claims(anew["seal"])["exp"] == int((END_OF_21_DAYS + 8 * DAY).timestamp())
    assert claims(anew["seal"])["breaks"] == claims(first)["breaks"]
    assert quote(shop)["seal"] == anew["seal"]
    assert verified(shop, first)["status"] == "valid"


def test_withdrawn_price_has_no_seal_and_what_was_promised_is_kept(shop: Door) -> None:
    seal = quote(shop)["seal"]
    tag = shop.ask("GET", "/v1/listings/P", "cost").headers["etag"]
    gone = shop.ask("DELETE", "/v1/listings/P", "listings", headers={"If-Match": tag})
    assert gone.status_code == 204, gone.text
    (item,) = for_sale(shop, changed_since=1)
    assert (item["breaks"], "seal" in item) == ([], False)
    assert verified(shop, seal)["status"] == "valid"


FORGED = {
    "edited": lambda seal: seal.replace(seal.split(".")[1], seal.split(".")[1][:-4] + "AAAA"),
    "no signature": lambda seal: seal.rpartition(".")[0] + ".",
    "of another key": lambda seal: signed(json.encode(claims(seal)), TYP, made_key()),
    "nothing": lambda _: "",
    "another alphabet": lambda seal: seal + "ü",
    "half of a pair": lambda _: "\\ud800",
    "long": lambda seal: seal + "A" * 15_000,
}


@pytest.mark.parametrize("forge", FORGED.values(), ids=FORGED.keys())
def test_of_what_is_not_genuine_nothing_is_said(shop: Door, forge: Any) -> None:
    assert verified(shop, forge(quote(shop)["seal"])) == {"status": "not_genuine"}


@pytest.mark.parametrize(
    ("sent", "fault"),
    [
        ({}, ("/seal", "'seal' is missing")),
        ({"seal": 1}, ("/seal", "must be a text in quotes, not a whole number")),
        ({"seal": "x" * 20_001}, ("/seal", "must have at most 20000 characters, not 20001")),
        ({"seal": "x", "key": "y"}, ("/key", "unknown member")),
    ],
)
def test_what_is_no_seal_at_all_is_refused_in_words(
    shop: Door, sent: Any, fault: tuple[str, str]
) -> None:
    status, kind, faults = refusal(shop.ask("POST", VERIFY, json=sent))
    assert (status, kind, faults[0][0]) == (422, "invalid-request", fault[0])
    assert faults[0][1].startswith(fault[1])


def test_keys_are_told_to_all_and_may_be_kept_for_five_minutes(shop: Door) -> None:
    answer = shop.ask("GET", JWKS)
    (key,) = answer.json()["keys"]
    assert sorted(key) == ["alg", "crv", "kid", "kty", "use", "x"]
    assert (key["kty"], key["crv"], key["use"], key["alg"]) == ("OKP", "Ed25519", "sig", "Ed25519")
    assert answer.headers["content-type"] == "application/jwk-set+json"
    assert answer.headers["cache-control"] == "public, max-age=300"
    again = shop.ask("GET", JWKS, headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert shop.ask("GET", JWKS, headers={"Accept": "application/json"}).json() == answer.json()


def test_before_anything_is_sealed_there_is_no_key(tmp_path: Path) -> None:
    with opened(Settings(store=make_shop(tmp_path / "gramhour.sqlite"))) as door:
        assert door.ask("GET", JWKS).json() == {"keys": []}


def test_without_a_store_nothing_is_sealed_and_nothing_is_genuine() -> None:
    with opened(Settings()) as door:
        assert door.ask("GET", JWKS).json() == {"keys": []}
        assert verified(door, "a.b.c") == {"status": "not_genuine"}
        sheet = {
            "currency": "EUR", "labour_rate_per_hour": 1, "price_per_kwh": 0,
            "channels": {"own-shop": {"prices_include_tax": True, "aim": {"margin_pct": 1}}},
        }  # fmt: skip
        product = {"name": "Work", "work": {"unit_min": 5}}
        answer = door.ask("POST", QUOTES, json={**FREE, "rates": sheet, "product": product})
        detail = "only what the shop's stored rates say is sealed, and this service has no store"
        assert refusal(answer) == (422, "cannot-be-sealed", [(None, detail)])


def test_many_prices_are_signed_after_it_was_answered_that_they_are_listed(
    shop: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sealing, "MOST_BEFORE_THE_ANSWER", 1)
    skus = [f"M-{n}" for n in range(3)]
    listed(shop, *({"sku": sku, "product": "pot", "channel": "own-shop"} for sku in skus))
    list_prices(shop, skus=skus)
    seals = {item["sku"]: item["seal"] for item in for_sale(shop)}
    assert [verified(shop, seals[sku])["status"] for sku in skus] == ["valid"] * 3
    assert "".join(sorted(seals)) == "M-0M-1M-2P"

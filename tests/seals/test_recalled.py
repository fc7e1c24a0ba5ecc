"""Keys turned over, seals recalled, a key believed no more: who verifies with us, and who alone."""

from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from gramhour.contract.seals import PublicKey, PublicKeys
from gramhour.seals import SealKeys, SealRefused
from gramhour_service.seals.listed import seal_listed
from gramhour_service.seals.standing import OVERLAP
from gramhour_service.seals.turning import (
    NoSuchKey,
    NoSuchRevision,
    distrust,
    recall,
    rename,
    rotate,
)
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import open_store
from gramhour_service.store.prices import newest_change
from gramhour_service.store.seals import recalls
from tests.http.asking import MONDAY, change
from tests.http.door import NOW, Door
from tests.http.repriced import apply, list_prices, listed, repriced
from tests.seals.shown import (
    DAY,
    FREE,
    JWKS,
    LABOUR,
    QUOTES,
    claims,
    described,
    for_sale,
    header,
    keys,
    quote,
    refusal,
    verified,
)

ADA = Written("ada", NOW)


@pytest.fixture
def store(path: Path) -> Iterator[Database]:
    """The shop's store, as a command opens it beside the service."""
    with closing(open_store(path)) as opened:
        yield opened


def alone(door: Door, seal: str, now: datetime = NOW) -> str:
    """Verify a seal as a storefront does, with the published keys."""
    published = SealKeys(PublicKeys(**door_keys(door)))
    try:
        published.offer_in(seal, now)
    except SealRefused as refused:
        return refused.status
    return "valid"


def door_keys(door: Door) -> Any:
    return {"keys": [PublicKey(**key) for key in door.ask("GET", JWKS).json()["keys"]]}


def test_after_a_rotation_the_new_key_signs_and_both_verify(shop: Door, store: Database) -> None:
    old = quote(shop)["seal"]
    rotate(store, ADA)
    new = described(shop)["seal"]
    assert keys(shop) == [header(new)["kid"], header(old)["kid"]]
    assert quote(shop)["seal"] == old, "what is kept counts for its time"
    for seal in (old, new):
        assert (verified(shop, seal)["status"], alone(shop, seal)) == ("valid", "valid")


def test_after_the_overlap_the_old_key_is_told_no_more(
    shop: Door, store: Database, clock: list[datetime]
) -> None:
    old = quote(shop)["seal"]
    rotate(store, ADA)
    clock[0] = NOW + OVERLAP - timedelta(seconds=1)
    assert header(old)["kid"] in keys(shop)
    clock[0] = NOW + OVERLAP
    assert header(old)["kid"] not in keys(shop)
    assert (verified(shop, old)["status"], alone(shop, old, clock[0])) == ("expired", "unknown_key")


def test_recalled_seals_count_with_nobody_and_those_of_other_revisions_are_signed_anew(
    shop: Door, store: Database
) -> None:
    first = quote(shop)["seal"]
    assert change(shop, LABOUR).status_code == 201
    listed(shop, {"sku": "L", "product": "pot", "channel": "own-shop", "breaks": [3]})
    list_prices(shop, skus=["L"])
    mistyped = quote(shop, sku="L")["seal"]
    assert (claims(first)["rates_revision"], claims(mistyped)["rates_revision"]) == (1, 2)
    recall(store, [2], "44 for 24", ADA)
    assert seal_listed(store, NOW, 0, newest_change(store)) == 1
    assert verified(shop, mistyped) == {"status": "recalled", "offer": claims(mistyped)}
    assert verified(shop, first)["status"] == "valid"
    assert [alone(shop, seal) for seal in (mistyped, first)] == ["unknown_key", "unknown_key"]
    by_sku = {item["sku"]: item for item in for_sale(shop)}
    assert "seal" not in by_sku["L"]
    assert by_sku["P"]["seal"] != first
    assert claims(by_sku["P"]["seal"]) == claims(first)
    assert alone(shop, by_sku["P"]["seal"]) == "valid"
    assert [each[:4] for each in recalls(store)] == [(2, ADA.stamp, "ada", "44 for 24")]


def test_by_recalled_rates_nothing_is_sealed_until_right_ones_are_saved_and_applied(
    shop: Door, store: Database
) -> None:
    recall(store, [1], "", ADA)
    detail = (
        "seals by revision 1 of the rates were recalled; save right rates, then ask again "
        "(of what is listed: reprice all, and apply)"
    )
    for key, asked in (("price", {"sku": "P", "quantity": 3, "seal": True}), ("cost", FREE)):
        answer = shop.ask("POST", QUOTES, key, json=asked)
        assert refusal(answer) == (422, "cannot-be-sealed", [(None, detail)])
    assert ["seal" in item for item in for_sale(shop)] == [False]
    right = {"kind": "nozzles", "code": "n10", "value": {"price": "9.50"}}
    assert change(shop, right).status_code == 201
    assert claims(described(shop)["seal"])["rates_revision"] == 2
    list_prices(shop, over="all")
    (item,) = for_sale(shop)
    assert item["change"] == 1, "its price did not move, but was confirmed"
    assert claims(item["seal"])["rates_revision"] == 2
    assert verified(shop, item["seal"])["status"] == "valid"


def test_held_price_is_confirmed_where_a_repricing_of_all_is_applied(
    shop: Door, store: Database
) -> None:
    held = {"sku": "P", "product": "pot", "channel": "own-shop", "breaks": [3], "hold": True}
    listed(shop, held)
    recall(store, [1], "", ADA)
    assert change(shop, LABOUR).status_code == 201
    apply(shop, repriced(shop, over="all")["id"], **{"except": ["P"]})
    list_prices(shop)
    assert ["seal" in item for item in for_sale(shop)] == [False], "left out, then not among all"
    list_prices(shop, over="all")
    (item,) = for_sale(shop)
    assert item["change"] == 1, "its price stays"
    assert claims(item["seal"])["rates_revision"] == 2
    assert verified(shop, item["seal"])["status"] == "valid"


def test_unmoved_price_is_confirmed_though_another_is_planned_after_it(
    shop: Door, store: Database
) -> None:
    assert change(shop, LABOUR, effective_from=MONDAY).status_code == 201
    apply(shop, repriced(shop, rates_on=MONDAY)["id"])
    recall(store, [1], "", ADA)
    assert ["seal" in item for item in for_sale(shop)] == [False, True]
    right = {"kind": "nozzles", "code": "n10", "value": {"price": "9.50"}}
    assert change(shop, right, based_on=2).status_code == 201
    list_prices(shop, over="all")
    today, planned = for_sale(shop)
    assert (today["change"], planned["change"]) == (1, 2)
    assert claims(today["seal"])["rates_revision"] == 3
    assert claims(planned["seal"])["rates_revision"] == 2


def test_planned_price_by_recalled_rates_is_not_confirmed_with_todays(
    shop: Door, store: Database
) -> None:
    assert change(shop, LABOUR, effective_from=MONDAY).status_code == 201
    apply(shop, repriced(shop, rates_on=MONDAY)["id"])
    recall(store, [2], "44 for 24", ADA)
    right = {"kind": "nozzles", "code": "n10", "value": {"price": "9.50"}}
    assert change(shop, right, based_on=2).status_code == 201
    list_prices(shop, over="all")
    today, planned = for_sale(shop)
    assert claims(today["seal"])["rates_revision"] == 3
    assert "seal" not in planned


def test_recall_names_a_revision_that_there_is(shop: Door, store: Database) -> None:
    before = keys(shop)
    with pytest.raises(NoSuchRevision) as refused:
        recall(store, [1, 2], "", ADA)
    assert refused.value.newest == 1
    assert (recalls(store), keys(shop)) == ([], before)


def test_recalled_twice_is_recalled_once_as_it_was_first(shop: Door, store: Database) -> None:
    seal = quote(shop)["seal"]
    recall(store, [1], "first", ADA)
    recall(store, [1], "again", Written("bob", NOW + DAY))
    assert [(each.recalled_by, each.note) for each in recalls(store)] == [("ada", "first")]
    assert verified(shop, seal)["status"] == "recalled"


def test_of_a_key_that_is_believed_no_more_nothing_is_genuine(shop: Door, store: Database) -> None:
    stolen = quote(shop)["seal"]
    distrust(store, header(stolen)["kid"], "a copy of the store is gone", ADA)
    assert (verified(shop, stolen), alone(shop, stolen)) == (
        {"status": "not_genuine"}, "unknown_key",
    )  # fmt: skip
    (item,) = for_sale(shop)
    assert header(item["seal"])["kid"] != header(stolen)["kid"]
    assert (verified(shop, item["seal"])["status"], alone(shop, item["seal"])) == ("valid", "valid")
    with pytest.raises(NoSuchKey):
        distrust(store, "no-such-key", "", ADA)


def test_with_a_key_those_before_it_are_believed_no_more_since_a_copy_has_them_too(
    shop: Door, store: Database
) -> None:
    old = quote(shop)["seal"]
    rotate(store, ADA)
    distrust(store, keys(shop)[0], "a copy of the store is gone", ADA)
    assert verified(shop, old) == {"status": "not_genuine"}
    assert len(keys(shop)) == 1
    assert verified(shop, quote(shop)["seal"])["status"] == "valid"


def test_key_of_before_can_be_believed_no_more_while_the_one_of_today_signs_on(
    shop: Door, store: Database
) -> None:
    old = quote(shop)["seal"]
    rotate(store, ADA)
    signs = keys(shop)[0]
    distrust(store, header(old)["kid"], "", ADA)
    assert keys(shop) == [signs]
    assert verified(shop, old) == {"status": "not_genuine"}


def test_name_that_promises_can_be_ones_own_address(shop: Door, store: Database) -> None:
    before = described(shop)["seal"]
    rename(store, "https://shop.example/prices")
    assert claims(described(shop)["seal"])["iss"] == "https://shop.example/prices"
    assert verified(shop, before)["status"] == "valid"
    for wrong in ("", "two words", "x" * 201, "sch\u00f6n", "a\nb"):
        with pytest.raises(ValueError, match="without blanks"):
            rename(store, wrong)


def test_who_verifies_alone_may_ask_for_one_issuer(shop: Door) -> None:
    seal = quote(shop)["seal"]
    published = SealKeys(PublicKeys(**door_keys(shop)))
    issuer = claims(seal)["iss"]
    assert published.offer_in(seal, NOW, issuer=issuer).sku == "P"
    with pytest.raises(SealRefused, match="not_genuine"):
        published.offer_in(seal, NOW, issuer="https://another.example")


def test_promised_price_is_that_of_the_largest_break_reached_or_of_the_quantity_itself(
    shop: Door,
) -> None:
    published = SealKeys(PublicKeys(**door_keys(shop)))
    from_on = published.offer_in(quote(shop)["seal"], NOW)
    three, ten = (each.unit_price for each in from_on.breaks)
    asked = (1, 2, 3, 9, 10, 5000)
    assert [from_on.unit_price(each) for each in asked] == [None, None, three, three, ten, ten]
    at = published.offer_in(described(shop)["seal"], NOW)
    three, ten = (each.unit_price for each in at.breaks)
    assert [at.unit_price(each) for each in asked] == [None, None, three, None, ten, None]
    assert at.product == "Herb pot"

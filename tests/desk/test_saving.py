"""What is saved at the desk: a name that cannot be is told at its field, and the rest goes on."""

from contextlib import closing
from pathlib import Path

from gramhour.contract.members import CODE_FORM, SKU_FORM
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests.desk.at_desk import Fields, Seen, main_of, signed_in
from tests.http.door import NOW, Door, secret
from tests.http.repriced import demo_products, describe, list_prices, listed

BENCH, NEW = "/desk/bench", "/desk/rates/materials/new"


def test_a_code_or_a_sku_that_cannot_be_is_told_at_its_field(door: Door) -> None:
    desk = signed_in(door, "listings")
    bad_code = f"Give {CODE_FORM}."
    for fields, at, says in (
        ({"save": "product", "product-code": ""}, "product-code", "Give the product a code first."),
        ({"save": "product", "product-code": "Plant Peg"}, "product-code", bad_code),
        ({"save": "product", "product-code": "p" * 64}, "product-code", bad_code),
        ({"save": "listing", "product-code": "peg", "sku": "P 1"}, "sku",
         f"A sku must be {SKU_FORM}."),
    ):  # fmt: skip
        told = desk.send(BENCH, fields)
        assert f'aria-describedby="{at}-help {at}-fault" aria-invalid="true"' in told.text
        assert f'<p class="fault" id="{at}-fault">{says}</p>' in told.text
        assert f"Not saved. {says}" in main_of(told)


def test_a_product_is_saved_with_what_of_it_is_hardly_meant(door: Door) -> None:
    desk = signed_in(door, "listings")
    told = desk.send(
        BENCH, {"save": "product", "product-code": "peg", "/product/reject_pct": "0.05"}
    )
    assert "Product peg is saved." in main_of(told)
    assert "Unlikely size: Product peg: reject_pct is 0.05 %; 0.1 % or" in main_of(told)


def test_a_new_rate_is_called_saved_and_saved_again(door: Door) -> None:
    desk = signed_in(door, "rates")
    for do in ("save", "try"):
        told = desk.send(NEW, {"do": do, "code": "PLA Blue", "/value/price_per_kg": "22"})
        assert "Not saved. Give a code of small letters" in main_of(told)
        assert 'id="code-fault"' in told.text
    saved = desk.send(NEW, {"do": "save", "code": "pla-blue", "/value/price_per_kg": "22"})
    assert "It is saved." in main_of(saved)
    again: Fields = {**Seen(saved.text).fields, "do": "save", "/value/price_per_kg": "23"}
    assert "It is saved." in main_of(desk.post(NEW, again))
    rate = door.ask("GET", "/v1/rates/materials/pla-blue", "rates").json()
    assert rate["value"] == {"price_per_kg": "23"}


def test_a_fault_is_told_in_the_words_of_the_form(door: Door) -> None:
    desk = signed_in(door, "cost")
    fields: Fields = {"row": ["/product/pieces/0", "/product/pieces/0/feed/0"],
              "/product/pieces/0/feed/0/mass_g": "6,234"}  # fmt: skip
    told = main_of(desk.send(BENCH, fields))
    assert "product, piece 1, filament 1, mass : may be 6.234 or 6234: write the one" in told


def test_a_number_that_is_hardly_meant_is_asked_about_before_it_is_saved(door: Door) -> None:
    desk = signed_in(door, "rates")
    place, overhead = "/desk/rates/shop/admin_overhead_pct", "/v1/rates/shop/admin_overhead_pct"
    before = door.ask("GET", overhead, "rates").json()
    asked = desk.send(place, {"do": "save", "/value": "0.12"})
    assert "Is this meant? It is not saved yet." in main_of(asked)
    assert "admin_overhead_pct" in main_of(asked)
    assert door.ask("GET", overhead, "rates").json() == before
    by_the_minute = {"do": "try", "/value": "0,455"}
    told = desk.send("/desk/rates/shop/labour_rate_per_hour", by_the_minute)
    assert "Unlikely size: An hour of work costs 0.455 and a kilowatt hour" in main_of(told)
    cut = desk.send("/desk/rates/materials/pla-chalk", {"do": "save", "/value/density_g_cm3": ""})
    assert "materials/pla-chalk: density_g_cm3 is gone; it was 1.24" in main_of(cut)
    sent: Fields = {**Seen(asked.text).fields, "do": "save as it stands"}
    assert "It is saved." in main_of(desk.post(place, sent))
    assert door.ask("GET", overhead, "rates").json()["value"] == "0.12"


def test_a_trial_tells_apart_what_was_saved_before_and_is_not_applied(
    door: Door, store: Path
) -> None:
    with closing(open_store(store)) as opened_store:
        add_key(opened_store, "maker", secret("maker"), ["rates", "listings"], now=NOW)
    describe(door, "hook", demo_products()["balcony-hook"]["product"])
    listed(door, {"sku": "H", "product": "hook", "channel": "own-shop"})
    list_prices(door)
    desk, place = signed_in(door, "maker"), "/desk/rates/shop/labour_rate_per_hour"
    same = main_of(desk.send(place, {"do": "try"}))
    assert "It is as it was." in same
    assert "listings looked at" not in same
    dearer = {"do": "save", "/value": "90.00"}
    assert "It is saved." in main_of(desk.send("/desk/rates/shop/labour_rate_per_hour", dearer))
    told = main_of(desk.send("/desk/rates/shop/price_per_kwh", {"do": "try", "/value": "0.40"}))
    assert (
        "Not all of that comes of this change: without it 1 would go up and 0 down, by what was "
        "changed before and is not yet applied."
    ) in told

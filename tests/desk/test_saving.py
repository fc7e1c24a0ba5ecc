"""What is saved at the desk: a name that cannot be is told at its field, and the rest goes on."""

from gramhour.contract.members import CODE_FORM, SKU_FORM
from tests.desk.at_desk import Fields, Seen, main_of, signed_in
from tests.http.door import Door

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

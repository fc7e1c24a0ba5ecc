"""A variant is its product in other filaments; what is listed stays described."""

from typing import Any

import msgspec
import pytest

from gramhour.contract.listing import ProductEntry
from gramhour_service.listings.variants import variants_of
from tests.http.asking import NEW, refused, seen
from tests.http.door import Door
from tests.http.offering import (
    IN_CHALK,
    LISTINGS,
    POT,
    POT_AS_DESCRIBED,
    POT_ENTRY,
    PRODUCTS,
    list_rows,
    make_pot,
    post_rows,
    put_entry,
    read,
    take_away,
)

FIRST = '"v1"'


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot."""
    make_pot(own_shop)
    return own_shop


def entry(door: Door, path: str = POT) -> Any:
    return read(door, path).json()["entry"]


def quoted(door: Door, product: Any) -> Any:
    sent = {"product": product, "quantity": 10, "breaks": [1, 10], "channel": "own-shop"}
    return door.ask("POST", "/v1/quotes", "cost", json=sent).json()


def test_a_variant_is_priced_as_the_product_described_in_its_filaments(door: Door) -> None:
    kept = msgspec.json.decode(read(door, POT).content)["entry"]
    variants = variants_of(msgspec.convert(kept, ProductEntry, strict=False))
    assert set(variants) == {"", "chalk"}
    swapped = msgspec.to_builtins(variants["chalk"])
    piece = POT_AS_DESCRIBED["pieces"][0]
    by_hand = {
        **POT_AS_DESCRIBED,
        "pieces": [{**piece, "feed": [{"material": "pla-chalk", "mass_g": "140"}]}],
    }
    told = quoted(door, swapped)
    assert told == quoted(door, by_hand)
    assert set(told["breaks"][0]["use"]["feedstock_g"]) == {"pla-chalk"}
    as_described = quoted(door, msgspec.to_builtins(variants[""]))
    assert as_described == quoted(door, POT_AS_DESCRIBED)
    assert set(as_described["breaks"][0]["use"]["feedstock_g"]) == {"asa-green"}


def test_two_filaments_change_places_all_at_once() -> None:
    feeds = [{"material": each, "mass_g": "1"} for each in ("a", "b", "a", "c")]
    product = {"pieces": [{"machine": "m", "print_min": "1", "feed": feeds}]}
    variant = {"name": "turned", "materials": {"a": "b", "b": "a"}}
    entry = msgspec.convert({"product": product, "variants": [variant]}, ProductEntry)
    (piece,) = msgspec.to_builtins(variants_of(entry)["turned"])["pieces"]
    assert [feed["material"] for feed in piece["feed"]] == ["b", "a", "b", "c"]


def test_a_product_that_is_listed_is_not_taken_away(door: Door) -> None:
    list_rows(door, *({"sku": f"P-{n}"} for n in range(1, 8)))
    answer = take_away(door, POT, seen(FIRST))
    assert answer.status_code == 409
    expected = "it is listed as P-1, P-2, P-3, P-4, P-5; take those away first"
    assert refused(answer) == ("in-use", [(None, expected)])
    for n in range(1, 8):
        assert take_away(door, f"{LISTINGS}/P-{n}", seen(FIRST)).status_code == 204
    assert take_away(door, POT, seen(FIRST)).status_code == 204


def test_a_variant_that_is_listed_is_not_removed(door: Door) -> None:
    list_rows(door, {"sku": "P-1"}, {"sku": "P-2", "variant": "chalk"})
    renamed = {**POT_ENTRY, "variants": [{**IN_CHALK, "name": "white"}]}
    without = {"product": POT_AS_DESCRIBED}
    expected = "variant 'chalk' is listed as P-2; take that away first"
    for value in (renamed, without):
        answer = put_entry(door, POT, value, seen(FIRST))
        assert refused(answer) == ("invalid-request", [("/variants", expected)])
    answer = post_rows(door, [{"code": "pot", **without}], path=PRODUCTS)
    assert refused(answer) == ("invalid-request", [("/items/0/variants", expected)])
    assert entry(door) == POT_ENTRY
    in_clear = {**POT_ENTRY, "variants": [{**IN_CHALK, "materials": {"asa-green": "petg-clear"}}]}
    assert put_entry(door, POT, in_clear, seen(FIRST)).status_code == 200
    assert take_away(door, f"{LISTINGS}/P-2", seen(FIRST)).status_code == 204
    assert put_entry(door, POT, without, seen('"v2"')).status_code == 200


def test_faults_of_variants_are_told_in_place(door: Door) -> None:
    whole_packs = {"material": "asa-green", "mass_g": 10, "charge": "whole_packs"}
    product = {"pieces": [{**POT_AS_DESCRIBED["pieces"][0], "feed": [whole_packs]}]}
    variants = [
        {"name": "slate", "materials": {"asa-gren": "tpu-slate"}},
        {"name": "slate", "materials": {"asa-green": "tpu-slate"}},
        IN_CHALK,
    ]
    answer = put_entry(door, f"{PRODUCTS}/pan", {"product": product, "variants": variants}, NEW)
    assert refused(answer) == ("invalid-request", [
        ("/variants/0/materials/asa-gren",
         "the product is not printed in 'asa-gren'; did you mean 'asa-green'?"),
        ("/variants/1/name", "variant 'slate' stands twice; keep one"),
        ("/variants/2", "in these filaments, /product/pieces/0/feed/0/charge: whole packs need an "
         "offer: the material 'pla-chalk' has none"),
    ])  # fmt: skip

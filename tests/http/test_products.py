"""A product is described once, with variants in other filaments, by whoever has seen what it was."""

from pathlib import Path
from typing import Any

import msgspec
import pytest

from gramhour.contract.listing import ProductEntry
from gramhour_service.http.settings import Settings
from gramhour_service.listings.variants import variants_of
from tests.http.asking import NEW, refused, seen
from tests.http.door import JSON, NDJSON, Door, add_keys, opened, problem_of
from tests.http.offering import (
    BY_LISTINGS,
    IN_CHALK,
    LISTINGS,
    POT,
    POT_AS_DESCRIBED,
    POT_ENTRY,
    PRODUCTS,
    done,
    list_rows,
    make_pot,
    post_rows,
    put_entry,
    read,
    take_away,
)

FIRST = '"v1"'
IN_ONE_STYLE = {
    "pot": POT_ENTRY,
    "lid": {"product": {"work": {"unit_min": "2"}}, "note": "Only work."},
    "pan": {"product": POT_AS_DESCRIBED},
}
NOT_BY_ITS_TAG = {
    "neither header": {},
    "any state": {"If-Match": "*"},
    "any state among tags": {"If-Match": f"{FIRST}, *"},
    "any state, and new": {"If-Match": "*", **NEW},
    "an empty header": {"If-Match": ""},
    "none of a tag": {"If-None-Match": FIRST},
}


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot."""
    make_pot(own_shop)
    return own_shop


def entry(door: Door, path: str = POT) -> Any:
    return read(door, path).json()["entry"]


def test_a_new_product_is_made_once_and_read_as_it_was_sent(own_shop: Door) -> None:
    answer = put_entry(own_shop, POT, POT_ENTRY, NEW)
    assert (answer.status_code, answer.headers["etag"]) == (201, FIRST)
    assert answer.headers["cache-control"] == "no-store"
    assert answer.json() == {
        "code": "pot", "version": 1, "changed_at": "2026-12-01T09:00:00Z",
        "changed_by": "listings", "entry": POT_ENTRY,
    }  # fmt: skip
    told = read(own_shop, POT)
    assert (told.json(), told.headers["etag"]) == (answer.json(), FIRST)
    again = put_entry(own_shop, POT, {**POT_ENTRY, "note": "x"}, NEW)
    assert again.status_code == 412
    expected = f"it is {FIRST} by now: {BY_LISTINGS}"
    assert refused(again) == ("precondition-failed", [(None, expected)])
    assert entry(own_shop) == POT_ENTRY


@pytest.mark.parametrize("headers", NOT_BY_ITS_TAG.values(), ids=list(NOT_BY_ITS_TAG))
@pytest.mark.parametrize("path", [POT, f"{PRODUCTS}/pan", f"{LISTINGS}/P-1"])
def test_nothing_is_overwritten_unseen(door: Door, path: str, headers: dict[str, str]) -> None:
    for answer in (put_entry(door, path, {}, headers), take_away(door, path, headers)):
        assert (problem_of(answer)[0], answer.status_code) == ("precondition-needed", 428)
    assert entry(door) == POT_ENTRY


def test_a_product_that_is_taken_away_is_never_said_to_be_new(door: Door) -> None:
    answer = take_away(door, POT, NEW)
    assert (problem_of(answer)[0], answer.status_code) == ("precondition-needed", 428)


@pytest.mark.parametrize("tags", [FIRST, f"W/{FIRST}", f'"v0", {FIRST}', f',, W/{FIRST},"x"'])
def test_a_product_is_changed_by_its_tag_however_it_is_written(door: Door, tags: str) -> None:
    answer = put_entry(door, POT, {**POT_ENTRY, "note": "thinner"}, seen(tags))
    assert (answer.status_code, answer.headers["etag"]) == (200, '"v2"')
    assert entry(door) == {**POT_ENTRY, "note": "thinner"}


@pytest.mark.parametrize("tag", ['"v0"', '"v2"', "v1", '""'])
def test_another_tag_changes_nothing_and_is_told_who_changed_it(door: Door, tag: str) -> None:
    for answer in (
        put_entry(door, POT, {"product": {}}, seen(tag)),
        take_away(door, POT, seen(tag)),
    ):
        assert answer.status_code == 412
        expected = f"it is {FIRST} by now: {BY_LISTINGS}"
        assert refused(answer) == ("precondition-failed", [(None, expected)])
    assert entry(door) == POT_ENTRY


def test_a_product_that_is_not_there_cannot_be_changed_by_a_tag(door: Door) -> None:
    answer = put_entry(door, f"{PRODUCTS}/pan", POT_ENTRY, seen(FIRST))
    expected = "there is no such product; send If-None-Match: * to make it"
    assert refused(answer) == ("precondition-failed", [(None, expected)])
    gone = take_away(door, f"{PRODUCTS}/pan", seen(FIRST))
    assert gone.status_code == 404
    assert refused(gone) == ("unknown-entry", [(None, "there is no product of that name")])


@pytest.mark.parametrize("headers", [seen(FIRST), seen('"v7"'), NEW], ids=str)
def test_what_is_so_already_is_answered_whatever_the_tag(
    door: Door, headers: dict[str, str]
) -> None:
    other_order = {"variants": [IN_CHALK], "product": {**POT_AS_DESCRIBED, "work": {"unit_min": 4}}}
    answer = put_entry(door, POT, other_order, headers)
    assert (answer.status_code, answer.headers["etag"]) == (200, FIRST)
    assert answer.json() == read(door, POT).json()


def test_a_put_repeated_after_a_lost_answer_meets_its_own_success(door: Door) -> None:
    noted = {**POT_ENTRY, "note": "thinner"}
    first = put_entry(door, POT, noted, seen(FIRST))
    assert put_entry(door, POT, noted, seen(FIRST)).json() == first.json()
    assert read(door, POT).json()["version"] == 2


def test_a_product_taken_away_is_made_anew_with_a_tag_that_it_never_had(door: Door) -> None:
    gone = take_away(door, POT, seen(f"W/{FIRST}"))
    assert (gone.status_code, gone.content) == (204, b"")
    assert door.ask("GET", POT, "cost").status_code == 404
    assert take_away(door, POT, seen(FIRST)).status_code == 404
    again = put_entry(door, POT, POT_ENTRY, NEW)
    assert (again.status_code, again.headers["etag"]) == (201, '"v3"')


def test_every_fault_of_a_product_is_told_in_place_with_the_nearest_name(door: Door) -> None:
    sent = {
        "product": {
            **POT_AS_DESCRIBED,
            "pieces": [{"machine": "larg", "nozzle": "n08", "print_min": "-1",
                        "feed": [{"material": "asa-gren", "mass_g": "1e999999"}]}],
            "components": [{"component": "wik"}],
        },
        "variant": [],
    }  # fmt: skip
    code = "unknown code '{}': the sheet has none such in {}; did you mean '{}'?"
    answer = put_entry(door, f"{PRODUCTS}/pan", sent, NEW)
    assert answer.status_code == 422
    assert refused(answer) == ("invalid-request", [
        ("/product/pieces/0/machine", code.format("larg", "machines", "large")),
        ("/product/pieces/0/print_min", "must be 0 or more, not '-1'"),
        ("/product/pieces/0/feed/0/material", code.format("asa-gren", "materials", "asa-green")),
        ("/product/pieces/0/feed/0/mass_g",
         "must be a plain decimal number such as 12.50, not '1e999999'"),
        ("/product/components/0/component", code.format("wik", "components", "wick")),
        ("/variant", "unknown member 'variant'; did you mean 'variants'?"),
    ])  # fmt: skip


def test_what_the_calculation_could_not_use_is_refused_in_place(door: Door) -> None:
    feed = {"material": "asa-green", "mass_g": 10, "per_build_g": 11}
    piece = {**POT_AS_DESCRIBED["pieces"][0], "feed": [feed]}
    answer = put_entry(door, f"{PRODUCTS}/pan", {"product": {"pieces": [piece]}}, NEW)
    expected = "is a part of the build's 10 g: it cannot be more"
    assert refused(answer) == (
        "invalid-request",
        [("/product/pieces/0/feed/0/per_build_g", expected)],
    )


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


@pytest.mark.parametrize("code", ["Pot", "-pot", "p_t", "p" * 64])
def test_a_code_is_one_of_the_contracts(own_shop: Door, code: str) -> None:
    answer = put_entry(own_shop, f"{PRODUCTS}/{code}", POT_ENTRY, NEW)
    expected = "must match ^[a-z0-9][a-z0-9-]{0,62}$"
    assert refused(answer) == ("invalid-request", [("code", expected)])


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


def test_rows_of_products_add_and_change_and_remove_none(door: Door) -> None:
    rows = [{"code": code, **each} for code, each in IN_ONE_STYLE.items()]
    expected = [("pot", "unchanged", 1), ("lid", "added", 1), ("pan", "added", 1)]
    assert done(post_rows(door, rows, path=PRODUCTS)) == expected
    lid = {"code": "lid", "product": {"work": {"unit_min": 3}}}
    assert done(post_rows(door, [lid], NDJSON, PRODUCTS)) == [("lid", "changed", 2)]
    listed = read(door, PRODUCTS).json()["items"]
    assert [(each["code"], each["version"]) for each in listed] == [
        ("lid", 2), ("pan", 1), ("pot", 1),
    ]  # fmt: skip
    assert entry(door, f"{PRODUCTS}/lid") == {"product": {"work": {"unit_min": "3"}}}


def test_products_as_lines_end_with_their_number_and_come_back_unchanged(door: Door) -> None:
    rows = [{"code": code, **each} for code, each in IN_ONE_STYLE.items()]
    assert len(done(post_rows(door, rows, path=PRODUCTS))) == 3
    told = read(door, PRODUCTS, NDJSON)
    assert told.headers["content-type"] == NDJSON
    *lines, last = told.content.splitlines(keepends=True)
    assert last == b'{"done":3}\n'
    assert [msgspec.json.decode(line) for line in lines] == sorted(
        rows, key=lambda row: row["code"]
    )
    expected = [(code, "unchanged", 1) for code in ("lid", "pan", "pot")]
    assert done(post_rows(door, b"".join(lines), NDJSON, PRODUCTS)) == expected


def test_what_the_caller_has_already_is_not_sent_again(door: Door) -> None:
    for path in (POT, PRODUCTS):
        tag = read(door, path).headers["etag"]
        for known in (tag, f"W/{tag}", f'"x", {tag}', "*"):
            again = door.ask("GET", path, "cost", headers={"If-None-Match": known})
            assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
        now = seen(read(door, POT).headers["etag"])
        assert put_entry(door, POT, {**POT_ENTRY, "note": path}, now).status_code == 200
        after = door.ask("GET", path, "cost", headers={"If-None-Match": tag})
        assert (after.status_code, after.headers["etag"] != tag) == (200, True)


def test_products_are_paged_in_the_order_of_their_codes(door: Door) -> None:
    rows = [{"code": code, **each} for code, each in IN_ONE_STYLE.items()]
    assert len(done(post_rows(door, rows, path=PRODUCTS))) == 3
    first = read(door, PRODUCTS, limit="2").json()
    assert [each["code"] for each in first["items"]] == ["lid", "pan"]
    assert first["next_cursor"] == "pan"
    last = read(door, PRODUCTS, limit="2", cursor="pan").json()
    assert [each["code"] for each in last["items"]] == ["pot"]
    assert "next_cursor" not in last
    assert "next_cursor" not in read(door, PRODUCTS, limit="3").json()


def test_the_methods_of_products_are_told_and_head_is_a_get_without_its_body(door: Door) -> None:
    for path, allowed in (
        (PRODUCTS, "GET, HEAD, OPTIONS, POST"),
        (POT, "DELETE, GET, HEAD, OPTIONS, PUT"),
    ):
        options = door.ask("OPTIONS", path)
        assert (options.status_code, options.headers["allow"]) == (204, allowed)
        told, head = (door.ask(method, path, "cost") for method in ("GET", "HEAD"))
        assert (head.status_code, head.content) == (200, b"")
        assert head.headers["etag"] == told.headers["etag"]
        assert head.headers["content-type"] == told.headers["content-type"] == JSON
        wrong = door.ask("PATCH", path, "listings")
        assert (problem_of(wrong)[0], wrong.status_code) == ("method-not-allowed", 405)
        assert set(wrong.headers["allow"].split(", ")) == set(allowed.split(", "))


def test_without_rates_no_product_can_be_kept(tmp_path: Path) -> None:
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        answer = put_entry(door, POT, POT_ENTRY, NEW)
        assert answer.status_code == 422
        expected = "no rates are in force; import a sheet first"
        assert refused(answer) == ("no-rates", [(None, expected)])
        assert refused(post_rows(door, [{"code": "pot"}], path=PRODUCTS))[0] == "no-rates"
        assert read(door, PRODUCTS).json() == {"items": []}

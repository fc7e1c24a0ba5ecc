"""A product is described once, and changed by whoever has seen what it was."""

from pathlib import Path
from typing import Any

import pytest

from gramhour.contract.noting import shown
from gramhour_service.http.settings import Settings
from tests.http.asking import NEW, refused, seen
from tests.http.door import Door, add_keys, opened, problem_of
from tests.http.offering import (
    BY_LISTINGS,
    IN_CHALK,
    LISTINGS,
    POT,
    POT_AS_DESCRIBED,
    POT_ENTRY,
    PRODUCTS,
    make_pot,
    post_rows,
    put_entry,
    read,
    take_away,
)

FIRST = '"v1"'
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


def test_a_number_that_is_hardly_meant_is_told_once_it_is_saved(door: Door) -> None:
    described = {**POT_ENTRY["product"], "reject_pct": "0.05"}
    changed = put_entry(door, POT, {**POT_ENTRY, "product": described}, seen(FIRST)).json()
    sold = {"product": "pot", "channel": "own-shop", "aim": {"margin_pct": "0.4"}}
    added = put_entry(door, f"{LISTINGS}/P-9", sold, NEW).json()
    common = "is 0.05 %; 0.1 % or more is common. If 5 % is meant, write 5."
    assert changed["cautions"] == [
        {"hazard": "unlikely size", "says": f"Product pot: reject_pct {common}"}
    ]
    common = "is 0.4 %; 1 % or more is common. If 40 % is meant, write 40."
    assert [each["says"] for each in added["cautions"]] == [
        f"Listing P-9: margin_pct of aim {common}"
    ]
    assert "cautions" not in read(door, POT).json()
    empty = put_entry(door, f"{PRODUCTS}/none", {"product": {}}, NEW).json()
    assert ["there are no pieces" in each["says"] for each in empty["cautions"]] == [True]


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


@pytest.mark.parametrize("code", ["Pot", "-pot", "p_t", "p" * 64])
def test_a_code_is_one_of_the_contracts(own_shop: Door, code: str) -> None:
    answer = put_entry(own_shop, f"{PRODUCTS}/{code}", POT_ENTRY, NEW)
    form = "a code of small letters, digits and hyphens, no hyphen first, at most 63"
    expected = f"must be {form}, such as asa-green, not {shown(code)}"
    assert refused(answer) == ("invalid-request", [("code", expected)])


def test_without_rates_no_product_can_be_kept(tmp_path: Path) -> None:
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        answer = put_entry(door, POT, POT_ENTRY, NEW)
        assert answer.status_code == 422
        expected = "no rates are in force; import a sheet first"
        assert refused(answer) == ("no-rates", [(None, expected)])
        assert refused(post_rows(door, [{"code": "pot"}], path=PRODUCTS))[0] == "no-rates"
        assert read(door, PRODUCTS).json() == {"items": []}

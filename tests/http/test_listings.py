"""A listing says what is sold where and how its price is made; whoever has seen it changes it."""

from typing import Any

import pytest

from gramhour.contract.noting import shown
from tests.http.asking import NEW, refused, seen
from tests.http.door import JSON, NDJSON, Door, problem_of
from tests.http.offering import (
    BY_LISTINGS,
    CSV,
    IN_SHOP,
    LISTINGS,
    list_rows,
    make_pot,
    post_rows,
    put_entry,
    read,
    skus,
    take_away,
)

ONE = f"{LISTINGS}/P-1"
FIRST = '"v1"'
WHOLE = {
    **IN_SHOP, "name": "Herb pot, chalk white", "variant": "chalk", "aim": {"markup_pct": "80"},
    "breaks": [1, 10], "margin_floor_pct": "-5", "least_change": "0.50", "hold": True,
    "note": "for the fair",
}  # fmt: skip


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot, and a listing of it."""
    make_pot(own_shop)
    list_rows(own_shop, {"sku": "P-1"})
    return own_shop


def listing(door: Door, path: str = ONE) -> Any:
    return read(door, path).json()["listing"]


def test_a_new_listing_is_made_once_and_read_as_it_was_sent(door: Door) -> None:
    two = f"{LISTINGS}/P.2_x~y-Z"
    answer = put_entry(door, two, WHOLE, NEW)
    assert (answer.status_code, answer.headers["etag"]) == (201, FIRST)
    assert answer.headers["cache-control"] == "no-store"
    assert answer.json() == {
        "sku": "P.2_x~y-Z", "version": 1, "changed_at": "2026-12-01T09:00:00Z",
        "changed_by": "listings", "listing": WHOLE, "planned": [],
    }  # fmt: skip
    assert read(door, two).json() == answer.json()
    again = put_entry(door, two, IN_SHOP, NEW)
    assert again.status_code == 412
    expected = f"it is {FIRST} by now: {BY_LISTINGS}"
    assert refused(again) == ("precondition-failed", [(None, expected)])


@pytest.mark.parametrize("tags", [FIRST, f"W/{FIRST}", f'"v0", {FIRST}'])
def test_a_listing_is_changed_by_its_tag_however_it_is_written(door: Door, tags: str) -> None:
    answer = put_entry(door, ONE, WHOLE, seen(tags))
    assert (answer.status_code, answer.headers["etag"]) == (200, '"v2"')
    assert listing(door) == WHOLE


@pytest.mark.parametrize("tag", ['"v0"', '"v2"', "v1"])
def test_another_tag_changes_nothing_and_is_told_who_changed_it(door: Door, tag: str) -> None:
    for answer in (put_entry(door, ONE, WHOLE, seen(tag)), take_away(door, ONE, seen(tag))):
        assert answer.status_code == 412
        expected = f"it is {FIRST} by now: {BY_LISTINGS}"
        assert refused(answer) == ("precondition-failed", [(None, expected)])
    assert listing(door) == IN_SHOP


@pytest.mark.parametrize("headers", [seen(FIRST), seen('"v7"'), NEW], ids=str)
def test_what_is_so_already_is_answered_whatever_the_tag(
    door: Door, headers: dict[str, str]
) -> None:
    answer = put_entry(door, ONE, dict(reversed(IN_SHOP.items())), headers)
    assert (answer.status_code, answer.headers["etag"]) == (200, FIRST)
    assert answer.json() == read(door, ONE).json()


def test_two_who_change_two_listings_do_not_collide(door: Door) -> None:
    list_rows(door, {"sku": "P-2"})
    for path in (ONE, f"{LISTINGS}/P-2"):
        assert put_entry(door, path, {**IN_SHOP, "hold": True}, seen(FIRST)).status_code == 200


def test_a_listing_taken_away_is_made_anew_with_a_tag_that_it_never_had(door: Door) -> None:
    gone = take_away(door, ONE, seen(FIRST))
    assert (gone.status_code, gone.content) == (204, b"")
    expected = ("unknown-entry", [(None, "there is no listing of that name")])
    for answer in (
        door.ask("GET", ONE, "cost"),
        door.ask("GET", f"{ONE}/prices", "cost"),
        take_away(door, ONE, seen(FIRST)),
    ):
        assert (answer.status_code, refused(answer)) == (404, expected)
    again = put_entry(door, ONE, IN_SHOP, NEW)
    assert (again.status_code, again.headers["etag"]) == (201, '"v3"')


def test_every_fault_of_a_listing_is_told_in_place_with_the_nearest_name(door: Door) -> None:
    sent = {"product": "pott", "channel": "own-shp", "aim": {"margin_pct": "40", "markup_pct": 80},
            "breaks": [1, 0], "margin_floor_pct": 100, "hold": "no", "varient": "chalk",
            "least_change": "-1", "note": "x" * 2001}  # fmt: skip
    answer = put_entry(door, f"{LISTINGS}/P-2", sent, NEW)
    assert answer.status_code == 422
    assert refused(answer) == ("invalid-request", [
        ("/channel", "unknown code 'own-shp': the sheet has none such in channels; did you mean "
         "'own-shop'?"),
        ("/aim", "margin_pct, markup_pct exclude each other; give exactly one of: margin_pct; "
         "markup_pct; unit_price"),
        ("/breaks/1", "must be from 1 to 100000, not 0"),
        ("/margin_floor_pct", "must be below 100, not 100"),
        ("/hold", "must be true or false, not a text"),
        ("/varient", "unknown member 'varient'; did you mean 'variant'?"),
        ("/least_change", "must be 0 or more, not '-1'"),
        ("/note", "must have at most 2000 characters, not 2001"),
        ("/product", "there is no product 'pott'; did you mean 'pot'?"),
    ])  # fmt: skip
    assert skus(door) == ["P-1"]


def test_what_the_channel_and_the_product_do_not_have_is_told_in_place(door: Door) -> None:
    sent = {"product": "pot", "variant": "chak", "channel": "trade", "breaks": [6, 7, 13],
            "aim": {"unit_price": "9.905"}, "least_change": "0.005"}  # fmt: skip
    answer = put_entry(door, f"{LISTINGS}/P-2", sent, NEW)
    assert refused(answer) == ("invalid-request", [
        ("/variant", "the product has no variant 'chak'; did you mean 'chalk'?"),
        ("/least_change", "must be a whole number of the minor unit (0.01)"),
        ("/aim/unit_price", "must have at most 2 decimals, not 9.905: buyers see it as it stands"),
        ("/breaks/1", "this channel sells multiples of 6, not 7; ask for 6 or 12"),
        ("/breaks/2", "this channel sells multiples of 6, not 13; ask for 12 or 18"),
    ])  # fmt: skip


def test_a_listing_of_no_product_is_refused(door: Door) -> None:
    answer = put_entry(door, f"{LISTINGS}/P-2", {**IN_SHOP, "product": "lamp"}, NEW)
    expected = "there is no product 'lamp'; see /v1/products"
    assert refused(answer) == ("invalid-request", [("/product", expected)])


@pytest.mark.parametrize("sku", ["-p", ".p", "p" * 65, "p+1"])
def test_a_sku_is_one_of_the_contracts(door: Door, sku: str) -> None:
    answer = put_entry(door, f"{LISTINGS}/{sku}", IN_SHOP, NEW)
    form = "letters, digits and . _ ~ -, a letter or digit first, at most 64, such as HP-12"
    expected = f"must be {form}, not {shown(sku)}"
    assert refused(answer) == ("invalid-request", [("sku", expected)])


def test_the_same_letters_in_other_cases_are_other_skus(door: Door) -> None:
    list_rows(door, {"sku": "p-1"}, {"sku": "p" * 64})
    assert skus(door) == ["P-1", "p-1", "p" * 64]


def test_a_listing_without_a_price_has_a_history_of_none(door: Door) -> None:
    assert read(door, f"{ONE}/prices").json() == {"sku": "P-1", "items": []}
    answer = door.ask("GET", f"{ONE}/prices?cursor=x&limit=0", "cost")
    assert refused(answer) == ("invalid-request", [
        ("limit", "must be a whole number from 1"),
        ("cursor", "is none of ours; send the next_cursor of the page before"),
    ])  # fmt: skip


@pytest.mark.parametrize("form", [JSON, NDJSON, CSV])
def test_head_is_a_get_without_its_body_in_every_form(door: Door, form: str) -> None:
    answers = [
        door.ask(method, LISTINGS, "cost", headers={"Accept": form}) for method in ("GET", "HEAD")
    ]
    told, head = answers
    assert (told.status_code, head.status_code, head.content) == (200, 200, b"")
    assert told.content
    for name in ("content-type", "cache-control", "vary"):
        assert head.headers[name] == told.headers[name]
    assert told.headers["content-type"].startswith(form)
    assert told.headers["cache-control"] == "no-store"
    assert told.headers["vary"] == "Accept, Authorization"


def test_the_methods_of_listings_are_told(door: Door) -> None:
    for path, allowed in (
        (LISTINGS, "GET, HEAD, OPTIONS, POST"),
        (ONE, "DELETE, GET, HEAD, OPTIONS, PUT"),
        (f"{ONE}/prices", "GET, HEAD, OPTIONS"),
    ):
        options = door.ask("OPTIONS", path)
        assert (options.status_code, options.headers["allow"]) == (204, allowed)
        wrong = door.ask("PATCH", path, "listings")
        assert (problem_of(wrong)[0], wrong.status_code) == ("method-not-allowed", 405)
        head = door.ask("HEAD", path, "cost")
        assert (head.status_code, head.content) == (200, b"")
        assert head.headers["etag"] == read(door, path).headers["etag"]


def test_a_form_that_listings_do_not_have_is_refused(door: Door) -> None:
    image = door.ask("GET", LISTINGS, "cost", headers={"Accept": "image/png"})
    assert (problem_of(image)[0], image.status_code) == ("not-acceptable", 406)
    one = door.ask("GET", ONE, "cost", headers={"Accept": CSV})
    assert (problem_of(one)[0], one.status_code) == ("not-acceptable", 406)
    for form in ("text/plain", "application/toml", f"{CSV}; charset=latin-1"):
        answer = post_rows(door, "sku,hold\nP-1,true\n", form)
        assert (problem_of(answer)[0], answer.status_code) == ("unsupported-media-type", 415)
    assert listing(door) == IN_SHOP


def test_equal_numbers_are_no_change_however_they_are_written(door: Door) -> None:
    assert put_entry(door, ONE, WHOLE, seen(FIRST)).status_code == 200
    for markup in ("80.0", 80, 80.00):
        same = {**WHOLE, "aim": {"markup_pct": markup}, "margin_floor_pct": -5}
        answer = put_entry(door, ONE, same, seen(FIRST))
        assert (answer.status_code, answer.headers["etag"]) == (200, '"v2"')
    assert listing(door) == WHOLE

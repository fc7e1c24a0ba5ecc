"""Products are listed, paged and sent many at once."""

from typing import Any

import msgspec
import pytest

from tests.http.asking import seen
from tests.http.door import JSON, NDJSON, Door, problem_of
from tests.http.offering import (
    IN_SHOP,
    LISTINGS,
    POT,
    POT_AS_DESCRIBED,
    POT_ENTRY,
    PRODUCTS,
    done,
    make_pot,
    post_rows,
    put_entry,
    read,
)

THREE = {
    "pot": POT_ENTRY,
    "lid": {"product": {"work": {"unit_min": "2"}}, "note": "Only work."},
    "pan": {"product": POT_AS_DESCRIBED},
}


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot."""
    make_pot(own_shop)
    return own_shop


def entry(door: Door, path: str = POT) -> Any:
    return read(door, path).json()["entry"]


def test_rows_of_products_add_and_change_and_remove_none(door: Door) -> None:
    rows = [{"code": code, **each} for code, each in THREE.items()]
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
    rows = [{"code": code, **each} for code, each in THREE.items()]
    assert len(done(post_rows(door, rows, path=PRODUCTS))) == 3
    told = read(door, PRODUCTS, NDJSON)
    assert told.headers["content-type"] == NDJSON
    *lines, last = told.content.splitlines(keepends=True)
    assert last == b'{"done":3}\n'
    assert [msgspec.json.decode(line) for line in lines] == sorted(
        rows, key=lambda row: row["code"]
    )
    expected = [(code, "unchanged", 1) for code in ("lid", "pan", "pot")]
    for text in (b"".join(lines), told.content):
        assert done(post_rows(door, text, NDJSON, PRODUCTS)) == expected


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
    rows = [{"code": code, **each} for code, each in THREE.items()]
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


@pytest.mark.parametrize("all_or_none", ["true", "false"])
def test_half_a_surrogate_pair_is_a_fault_of_its_row_wherever_it_stands(
    door: Door, all_or_none: str
) -> None:
    half, expected = "\ud800", "holds half of a surrogate pair; send whole characters"
    for path, row, place in (
        (PRODUCTS, {"code": half, "product": {}}, "/items/0/code"),
        (LISTINGS, {**IN_SHOP, "sku": half}, "/items/0/sku"),
        (LISTINGS, {**IN_SHOP, "sku": "A", "product": half}, "/items/0/product"),
        (LISTINGS, {**IN_SHOP, "sku": "A", "variant": half}, "/items/0/variant"),
    ):
        answer = post_rows(door, [row], path=path, all_or_none=all_or_none)
        told = answer.json()
        faults = told["errors"] if all_or_none == "true" else told["rows"][0]["errors"]
        assert {"pointer": place, "detail": expected} in faults
        assert answer.status_code == (422 if all_or_none == "true" else 200)

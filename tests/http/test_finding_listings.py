"""Listings are found by what they are of, where they are sold and what they use; page by page."""

import pytest

from tests.http.asking import refused, seen
from tests.http.door import NDJSON, Door
from tests.http.offering import (
    CSV,
    LISTINGS,
    POT,
    POT_ENTRY,
    PRODUCTS,
    done,
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


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot, and a listing of it."""
    make_pot(own_shop)
    list_rows(own_shop, {"sku": "P-1"})
    return own_shop


def test_250_listings_are_paged_with_nothing_lost_and_nothing_twice(door: Door) -> None:
    assert take_away(door, ONE, seen(FIRST)).status_code == 204
    names = [f"{letter}{n}" for n in range(50) for letter in "aZ9xB"]
    list_rows(door, *({"sku": name} for name in names))
    pages: list[list[str]] = []
    cursor: dict[str, str] = {}
    while True:
        told = read(door, LISTINGS, limit="100", **cursor).json()
        pages.append([each["sku"] for each in told["items"]])
        if "next_cursor" not in told:
            break
        cursor = {"cursor": told["next_cursor"]}
    assert [len(page) for page in pages] == [100, 100, 50]
    assert [sku for page in pages for sku in page] == sorted(names)
    assert len(skus(door)) == 100
    assert skus(door, limit="250") == sorted(names)
    assert "next_cursor" not in read(door, LISTINGS, limit="250").json()


def test_what_is_added_or_taken_away_meanwhile_moves_no_page(door: Door) -> None:
    list_rows(door, *({"sku": f"P-{n}"} for n in range(2, 7)))
    cursor = read(door, LISTINGS, limit="3").json()["next_cursor"]
    list_rows(door, {"sku": "P-0"})
    assert take_away(door, f"{LISTINGS}/P-3", seen(FIRST)).status_code == 204
    assert skus(door, limit="3", cursor=cursor) == ["P-4", "P-5", "P-6"]


@pytest.mark.parametrize(
    ("query", "fault"),
    [
        ("limit=0", ("limit", "must be a whole number from 1")),
        ("limit=1001", ("limit", "must be from 1 to 1000")),
        ("limit=ten", ("limit", "must be a whole number from 1")),
        ("limit=1&limit=2", ("limit", "is given twice; give it once")),
        (f"cursor={'x' * 201}",
         ("cursor", "is none of ours; send the next_cursor of the page before")),
        ("chanel=market", ("chanel", "unknown parameter; did you mean 'channel'?")),
        ("uses=asa-green",
         ("uses", "must be a kind and a code, such as materials/asa-green")),
        ("uses=spools/asa-green",
         ("uses", "must be a kind and a code, such as materials/asa-green")),
        ("below_floor=yes", ("below_floor", "must be one of: true, false")),
    ],
)  # fmt: skip
def test_a_parameter_that_cannot_be_is_named(
    door: Door, query: str, fault: tuple[str, str]
) -> None:
    answer = door.ask("GET", f"{LISTINGS}?{query}", "cost")
    assert answer.status_code == 422
    assert refused(answer) == ("invalid-request", [fault])


@pytest.fixture
def many(door: Door) -> Door:
    """A shop with several products on several channels."""
    small = {"pieces": [{"machine": "small-1", "print_min": "30",
                         "feed": [{"material": "petg-clear", "mass_g": "9"}]}],
             "components": [{"component": "wick"}]}  # fmt: skip
    rows = [{"code": "lamp", "product": small}, {"code": "work", "product": {}}]
    assert len(done(post_rows(door, rows, path=PRODUCTS))) == 2
    list_rows(
        door,
        {"sku": "P-2", "variant": "chalk"},
        {"sku": "P-3", "channel": "market", "variant": "chalk"},
        {"sku": "L-1", "product": "lamp"},
        {"sku": "L-2", "product": "lamp", "channel": "trade"},
        {"sku": "W-1", "product": "work", "channel": "market"},
    )
    return door


FOUND: dict[str, tuple[dict[str, str], list[str]]] = {
    "all": ({}, ["L-1", "L-2", "P-1", "P-2", "P-3", "W-1"]),
    "a channel": ({"channel": "market"}, ["P-3", "W-1"]),
    "a channel that is not": ({"channel": "fair"}, []),
    "a product": ({"product": "pot"}, ["P-1", "P-2", "P-3"]),
    "a product on a channel": ({"product": "pot", "channel": "own-shop"}, ["P-1", "P-2"]),
    "a filament": ({"uses": "materials/asa-green"}, ["P-1"]),
    "a variant's filament": ({"uses": "materials/pla-chalk"}, ["P-2", "P-3"]),
    "a filament of no variant": ({"uses": "materials/tpu-slate"}, []),
    "a machine": ({"uses": "machines/large"}, ["P-1", "P-2", "P-3"]),
    "a nozzle": ({"uses": "nozzles/n08"}, ["P-1", "P-2", "P-3"]),
    "a component": ({"uses": "components/wick"}, ["L-1", "L-2"]),
    "a channel as a rate": ({"uses": "channels/market"}, ["P-3", "W-1"]),
    "what two channels pack in": ({"uses": "components/carton"}, ["L-1", "L-2", "P-1", "P-2"]),
    "a code of another kind": ({"uses": "components/large"}, []),
    "a filament on a channel": (
        {"uses": "materials/pla-chalk", "channel": "market", "product": "pot"}, ["P-3"]),
    "those without a price": ({"below_floor": "true"}, []),
    "those under their floor or not": (
        {"below_floor": "false"}, ["L-1", "L-2", "P-1", "P-2", "P-3", "W-1"]),
}  # fmt: skip


def test_listings_are_found_in_every_form(many: Door) -> None:
    for says, (query, expected) in FOUND.items():
        assert (says, skus(many, **query)) == (says, expected)
        *lines, last = read(many, LISTINGS, NDJSON, **query).text.splitlines()
        assert (says, len(lines), last) == (says, len(expected), f'{{"done":{len(expected)}}}')
        _, *rows = read(many, LISTINGS, CSV, **query).text.splitlines()
        assert (says, [row.split(",")[0] for row in rows]) == (says, expected)


def test_what_is_found_is_paged_too(many: Door) -> None:
    first = read(many, LISTINGS, limit="1", channel="market").json()
    assert first["next_cursor"] == "P-3"
    assert skus(many, limit="1", channel="market", cursor="P-3") == ["W-1"]


def test_a_product_that_is_changed_is_found_by_what_it_uses_now(many: Door) -> None:
    variant = {"name": "chalk", "materials": {"asa-green": "tpu-slate"}}
    in_slate = {**POT_ENTRY, "variants": [variant]}
    assert put_entry(many, POT, in_slate, seen(FIRST)).status_code == 200
    assert skus(many, uses="materials/tpu-slate") == ["P-2", "P-3"]
    assert skus(many, uses="materials/pla-chalk") == []


def test_a_list_that_the_caller_has_already_is_not_sent_again(many: Door) -> None:
    for path, query in ((LISTINGS, {}), (LISTINGS, {"channel": "market"}), (f"{ONE}/prices", {})):
        tag = read(many, path, **query).headers["etag"]
        for known in (tag, f"W/{tag}", f'"x", {tag}', "*"):
            sent = {"If-None-Match": known}
            again = many.ask("GET", path, "cost", headers=sent, params=query)
            assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    tag = read(many, LISTINGS).headers["etag"]
    assert tag != read(many, LISTINGS, channel="market").headers["etag"]
    list_rows(many, {"sku": "P-9"})
    assert many.ask("GET", LISTINGS, "cost", headers={"If-None-Match": tag}).status_code == 200

"""Many listings at once: every row with its outcome, its faults in place, no other touched."""

import csv
import io
from json import loads
from typing import Any

import pytest

from tests.http.asking import NEW, refused, seen
from tests.http.door import JSON, NDJSON, Door, problem_of
from tests.http.offering import (
    CSV,
    IN_SHOP,
    LISTINGS,
    NO_CHANNEL,
    PRODUCTS,
    WHOLE,
    done,
    in_lines,
    list_rows,
    listing_of,
    make_pot,
    of_pot,
    post_rows,
    put_entry,
    read,
    skus,
    take_away,
)

ALL = "send 1 to 10000 rows at once, not {}"


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot, and seven listings of it."""
    make_pot(own_shop)
    list_rows(own_shop, *({"sku": f"P-{n}"} for n in range(1, 8)))
    return own_shop


def in_columns(*rows: dict[str, Any]) -> str:
    """Write rows as somebody with a spreadsheet does, who knows nothing of apostrophes."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(dict.fromkeys(name for row in rows for name in row)))
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def sent_as(form: str, *rows: dict[str, Any]) -> list[dict[str, Any]] | str:
    return in_columns(*rows) if form == CSV else [*rows]


@pytest.mark.parametrize("form", [JSON, NDJSON, CSV])
def test_five_rows_change_five_and_remove_none(door: Door, form: str) -> None:
    before = read(door, LISTINGS).json()["items"]
    rows = [of_pot(f"P-{n}", channel="market") for n in (5, 2, 4, 1, 3)]
    assert done(post_rows(door, sent_as(form, *rows), form)) == [
        (f"P-{n}", "changed", 2) for n in (5, 2, 4, 1, 3)
    ]
    after = read(door, LISTINGS).json()["items"]
    assert [each["listing"]["channel"] for each in after] == ["market"] * 5 + ["own-shop"] * 2
    assert after[5:] == before[5:]


@pytest.mark.parametrize("form", [JSON, NDJSON, CSV])
def test_each_row_is_told_what_became_of_it(door: Door, form: str) -> None:
    rows = [of_pot("P-1"), of_pot("A"), of_pot("P-2", channel="market")]
    expected = [("P-1", "unchanged", 1), ("A", "added", 1), ("P-2", "changed", 2)]
    answer = post_rows(door, sent_as(form, *rows), form)
    assert done(answer) == expected
    assert answer.headers["content-type"] == JSON
    assert answer.headers["cache-control"] == "no-store"
    again = [(sku, "unchanged", version) for sku, _, version in expected]
    assert done(post_rows(door, sent_as(form, *rows), form)) == again


def test_a_row_of_json_or_a_line_is_a_whole_listing(door: Door) -> None:
    assert put_entry(door, f"{LISTINGS}/A", {**IN_SHOP, "note": "x"}, NEW).status_code == 201
    for form, note in ((JSON, "y"), (NDJSON, "z")):
        assert done(post_rows(door, [of_pot("A", note=note, hold=True)], form))[0][1] == "changed"
        assert listing_of(door, "A") == {**IN_SHOP, "note": note, "hold": True}
        assert done(post_rows(door, [of_pot("A")], form))[0][1] == "changed"
        assert listing_of(door, "A") == IN_SHOP


WRONG = [
    of_pot("A"),
    of_pot("P-1", channel="own-shp", holds=True),
    of_pot("B", breaks=[2, 0]),
    of_pot("A", channel="market"),
    {"channel": "market"},
    7,
    of_pot("P-2", channel="market"),
]
FAULTS_OF_WRONG = [
    (1, "/channel", NO_CHANNEL),
    (1, "/holds", "unknown member 'holds'; did you mean 'hold'?"),
    (2, "/breaks/1", "must be from 1 to 100000, not 0"),
    (3, "/sku", "stands twice; keep one row"),
    (4, "/product", "'product' is missing; it has no default"),
    (4, "/sku", "'sku' is missing; it has no default"),
    (5, "", "must be an object of members, not a whole number"),
]
OUTCOMES_OF_WRONG = [
    (1, "A", "added", 1), (2, "P-1", "refused", None), (3, "B", "refused", None),
    (4, "A", "refused", None), (5, None, "refused", None), (6, None, "refused", None),
    (7, "P-2", "changed", 2),
]  # fmt: skip


def test_unless_all_rows_are_sound_none_is_kept_and_every_fault_has_its_place(door: Door) -> None:
    before = read(door, LISTINGS).content
    expected = [(f"/items/{n}{at}", detail) for n, at, detail in FAULTS_OF_WRONG]
    for query in ({}, {"all_or_none": "true"}):
        answer = post_rows(door, WRONG, **query)
        assert answer.status_code == 422
        assert refused(answer) == ("invalid-request", expected)
    assert in_lines(post_rows(door, WRONG, NDJSON)) == [
        (n + 1, f"{at}: {detail}" if at else detail) for n, at, detail in FAULTS_OF_WRONG
    ]
    assert read(door, LISTINGS).content == before


@pytest.mark.parametrize("form", [JSON, NDJSON])
def test_if_asked_so_the_sound_rows_are_kept_and_the_others_told(door: Door, form: str) -> None:
    answer = post_rows(door, WRONG, form, all_or_none="false")
    assert answer.status_code == 200
    told = answer.json()
    rows = told.pop("rows")
    assert told == {"added": 1, "changed": 1, "unchanged": 0, "refused": 5}
    outcomes = [(row["row"], row.get("name"), row["done"], row.get("version")) for row in rows]
    assert outcomes == OUTCOMES_OF_WRONG
    faults = [fault for row in rows for fault in row.get("errors", ())]
    assert faults == [
        {"pointer": f"/items/{n}{at}", "detail": detail}
        if form == JSON
        else {"line": n + 1, "detail": f"{at}: {detail}" if at else detail}
        for n, at, detail in FAULTS_OF_WRONG
    ]
    assert skus(door) == ["A", *(f"P-{n}" for n in range(1, 8))]
    assert listing_of(door, "A") == IN_SHOP
    assert listing_of(door, "P-2") == {**IN_SHOP, "channel": "market"}


def test_a_line_that_is_no_json_is_told_in_its_place(door: Door) -> None:
    text = b'\r\n{"sku": "A", "product": "pot", "channel": "own-shop"}\r\n\n{"sku":\n\xff\n'
    expected = [
        (4, "not JSON at column 8: Expecting value"),
        (5, "not UTF-8 at byte 0; save it as UTF-8"),
    ]
    assert in_lines(post_rows(door, text, NDJSON)) == expected
    told = post_rows(door, text, NDJSON, all_or_none="false").json()
    assert [(row["row"], row["done"]) for row in told["rows"]] == [
        (1, "added"), (2, "refused"), (3, "refused"),
    ]  # fmt: skip
    assert [row["errors"][0]["line"] for row in told["rows"][1:]] == [4, 5]


def test_all_or_none_is_true_or_false(door: Door) -> None:
    answer = post_rows(door, [of_pot("A")], all_or_none="no")
    expected = ("all_or_none", "must be one of: true, false")
    assert refused(answer) == ("invalid-request", [expected])


@pytest.mark.parametrize(
    ("form", "body", "fault"),
    [
        (JSON, "[]", ("", 'send {"items": [...]}, a list of rows')),
        (JSON, "{}", ("", 'send {"items": [...]}, a list of rows')),
        (JSON, '{"items": {}}', ("", 'send {"items": [...]}, a list of rows')),
        (JSON, '{"items": []}', ("/items", ALL.format(0))),
        (JSON, f'{{"items": [{"0," * 10_000}0]}}', ("/items", ALL.format(10_001))),
        (JSON, '{"items": [0], "rows": []}',
         ("/rows", "unknown member; only 'items' stands here")),
        (NDJSON, "", ("", ALL.format(0))),
        (NDJSON, "\n \n", ("", ALL.format(0))),
        (NDJSON, "0\n" * 10_001, ("", ALL.format(10_001))),
        (CSV, "sku,product,channel\n", ("", ALL.format(0))),
    ],
)  # fmt: skip
def test_what_holds_no_rows_or_too_many_is_refused(
    door: Door, form: str, body: str, fault: tuple[str, str]
) -> None:
    for path in [LISTINGS] if form == CSV else [LISTINGS, PRODUCTS]:
        answer = post_rows(door, body, form, path)
        assert answer.status_code == 422
        assert refused(answer) == ("invalid-request", [fault])


def test_a_body_that_cannot_be_read_is_malformed(door: Door) -> None:
    for body in ("", "{", b"\xff"):
        answer = post_rows(door, body, JSON)
        assert (problem_of(answer)[0], answer.status_code) == ("malformed-document", 400)


def test_rows_sent_again_under_the_same_word_get_the_same_answer(door: Door) -> None:
    rows = [of_pot("A"), of_pot("P-1", hold=True)]
    first = post_rows(door, rows, word="a")
    assert done(first) == [("A", "added", 1), ("P-1", "changed", 2)]
    assert take_away(door, f"{LISTINGS}/A", seen('"v1"')).status_code == 204
    again = post_rows(door, rows, word="a")
    assert (again.status_code, again.content) == (200, first.content)
    assert "A" not in skus(door)
    other = post_rows(door, [of_pot("A", hold=True)], word="a")
    assert (problem_of(other)[0], other.status_code) == ("other-body", 422)
    assert "A" not in skus(door)
    assert done(post_rows(door, rows, word="b")) == [("A", "added", 3), ("P-1", "unchanged", 2)]


def test_a_word_is_a_route_s_and_a_refusal_is_tried_anew_under_it(door: Door) -> None:
    early = [of_pot("A", product="pan")]
    assert post_rows(door, early, word="a").status_code == 422
    pan = [{"code": "pan", "product": {}}]
    assert done(post_rows(door, pan, path=PRODUCTS, word="a")) == [("pan", "added", 1)]
    assert done(post_rows(door, early, word="a")) == [("A", "added", 1)]
    for word in ("", "x" * 201):
        answer = post_rows(door, early, word=word)
        assert refused(answer)[0] == "invalid-request"


def test_lines_out_end_with_their_number_and_come_back_unchanged(door: Door) -> None:
    assert done(post_rows(door, [WHOLE]))[0][1] == "changed"
    told = read(door, LISTINGS, NDJSON)
    assert told.headers["content-type"] == NDJSON
    *lines, last = told.text.splitlines()
    assert last == '{"done":7}'
    assert loads(lines[0]) == WHOLE
    assert [loads(line) for line in lines[1:]] == [of_pot(f"P-{n}") for n in range(2, 8)]
    expected = [(f"P-{n}", "unchanged", 2 if n == 1 else 1) for n in range(1, 8)]
    assert done(post_rows(door, "\n".join(lines), NDJSON)) == expected
    assert done(post_rows(door, told.content, NDJSON)) == expected


def test_a_file_of_lines_that_lost_some_is_refused(door: Door) -> None:
    told = read(door, LISTINGS, NDJSON).content
    without_one = told.partition(b"\n")[2]
    expected = "it says that 7 lines come before it, and there are 6"
    assert in_lines(post_rows(door, without_one, NDJSON)) == [(7, expected)]

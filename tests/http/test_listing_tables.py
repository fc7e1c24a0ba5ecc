"""Listings as CSV: they come back as they were, run nothing, and faults have line and column."""

import csv
import io
from collections.abc import Iterator
from json import loads
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gramhour_service.http.settings import Settings
from tests.http.asking import seen
from tests.http.door import NDJSON, Door, make_shop, opened, problem_of
from tests.http.offering import (
    CSV,
    IN_SHOP,
    LISTINGS,
    NO_CHANNEL,
    WHOLE,
    done,
    in_lines,
    list_rows,
    listing_of,
    make_pot,
    of_pot,
    post_rows,
    read,
    skus,
    take_away,
)

HEADER = (
    "sku,name,product,variant,channel,aim.margin_pct,aim.markup_pct,aim.unit_price,breaks,"
    "margin_floor_pct,least_change,hold,note"
)


@pytest.fixture
def door(own_shop: Door) -> Door:
    """The demo's shop with the pot, and seven listings of it."""
    make_pot(own_shop)
    list_rows(own_shop, *({"sku": f"P-{n}"} for n in range(1, 8)))
    return own_shop


def test_csv_out_has_all_columns_and_texts_as_they_are(door: Door) -> None:
    rows = [WHOLE, of_pot("007", note="=1+1"), of_pot("1e5", name='the "good", one')]
    assert len(done(post_rows(door, rows))) == 3
    for n in range(2, 8):
        assert take_away(door, f"{LISTINGS}/P-{n}", seen('"v1"')).status_code == 204
    told = read(door, LISTINGS, CSV)
    assert told.headers["content-type"] == "text/csv; charset=utf-8"
    assert told.content.decode() == "\r\n".join([
        HEADER,
        "'007,,pot,,own-shop,,,,,,,,'=1+1",
        "'1e5,\"the \"\"good\"\", one\",pot,,own-shop,,,,,,,,",
        'P-1,Pot,pot,chalk,own-shop,40.50,,,"[1,10]",-5,,true,for the fair',
        "",
    ])  # fmt: skip


def test_an_export_sent_back_changes_nothing_however_a_spreadsheet_saves_it(door: Door) -> None:
    assert len(done(post_rows(door, [WHOLE, of_pot("007", note="-1; '")]))) == 2
    text = read(door, LISTINGS, CSV).content.decode()
    expected = [(sku, "unchanged", 2 if sku == "P-1" else 1) for sku in skus(door)]
    table = [*csv.reader(io.StringIO(text, newline=""))]
    for separator in ";\t":
        again = io.StringIO(newline="")
        csv.writer(again, delimiter=separator).writerows(table)
        assert done(post_rows(door, again.getvalue(), CSV)) == expected
    for body in (text, "\N{ZERO WIDTH NO-BREAK SPACE}" + text.replace("true", "TRUE") + "\n\n"):
        assert done(post_rows(door, body, CSV)) == expected


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """A shop whose listings are given any names and notes."""
    path: Path = make_shop(tmp_path_factory.mktemp("hostile") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        make_pot(door)
        yield door


names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._~-]{0,9}", fullmatch=True)
texts = st.text(
    st.characters(exclude_categories=["Cs"]) | st.sampled_from("=+-@\t\r\n'\",;0123456789. "),
    max_size=30,
)


@given(name=texts, note=texts, sku=names)
def test_any_text_comes_back_as_it_was_and_none_begins_like_a_formula(
    hostile: Door, name: str, note: str, sku: str
) -> None:
    assert post_rows(hostile, [of_pot(sku, name=name, note=note)]).status_code == 200
    text = read(hostile, LISTINGS, CSV).content.decode()
    # What spreadsheets take for a formula: OWASP, "CSV Injection" (=, +, -, @, tab, return).
    for cells in csv.reader(io.StringIO(text, newline="")):
        for cell in (cells[0], cells[1], cells[-1]):
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    before = read(hostile, LISTINGS, limit="1000").content
    assert {row[1] for row in done(post_rows(hostile, text, CSV))} == {"unchanged"}
    assert read(hostile, LISTINGS, limit="1000").content == before
    assert listing_of(hostile, sku) == {"name": name, **IN_SHOP, "note": note}


def test_columns_left_out_stay_and_empty_cells_take_away(door: Door) -> None:
    assert done(post_rows(door, [WHOLE]))[0][1] == "changed"
    rest = {name: value for name, value in WHOLE.items() if name != "sku"}
    assert done(post_rows(door, "hold,sku\nfalse,P-1\n", CSV)) == [("P-1", "changed", 3)]
    assert listing_of(door, "P-1") == {**rest, "hold": False}
    assert done(post_rows(door, 'sku,hold,breaks\nP-1,,"[5]"\n', CSV)) == [("P-1", "changed", 4)]
    assert listing_of(door, "P-1") == {k: v for k, v in rest.items() if k != "hold"} | {
        "breaks": [5]
    }
    text = "sku,aim.margin_pct,aim.markup_pct\nP-1,,80\n"
    assert done(post_rows(door, text, CSV)) == [("P-1", "changed", 5)]
    assert listing_of(door, "P-1")["aim"] == {"markup_pct": "80"}
    assert done(post_rows(door, "sku,aim.markup_pct\nP-1,\n", CSV)) == [("P-1", "changed", 6)]
    assert "aim" not in listing_of(door, "P-1")
    assert done(post_rows(door, "sku\nP-1\n", CSV)) == [("P-1", "unchanged", 6)]


def test_every_fault_of_a_csv_row_has_its_line_and_column(door: Door) -> None:
    text = (
        "sku,product,channel,hold,breaks,aim.margin_pct,note\r\n"
        'P-1,pot,own-shp,ja,"[1,0]",,"two\r\nlines"\r\n'
        "\r\n"
        "P-2,pot,own-shop,,,100,\r\n"
        "N,,,,,,\r\n"
        "P-3,pot,own-shop,true,,,\r\n"
        "P-3,pot,market,,,,\r\n"
    )
    faults = [
        (2, f"column channel: {NO_CHANNEL}"),
        (2, "column breaks.1: must be from 1 to 100000, not 0"),
        (2, "column hold: must be true or false, not a text"),
        (5, "column aim.margin_pct: must be below 100, not '100'"),
        (6, "column product: 'product' is missing; it has no default"),
        (6, "column channel: 'channel' is missing; it has no default"),
        (8, "column sku: stands twice; keep one row"),
    ]
    before = read(door, LISTINGS).content
    assert sorted(in_lines(post_rows(door, text, CSV))) == sorted(faults)
    assert read(door, LISTINGS).content == before
    told = post_rows(door, text, CSV, all_or_none="false").json()
    assert [(row["row"], row["name"], row["done"]) for row in told["rows"]] == [
        (1, "P-1", "refused"), (2, "P-2", "refused"), (3, "N", "refused"),
        (4, "P-3", "changed"), (5, "P-3", "refused"),
    ]  # fmt: skip
    told_faults = [fault for row in told["rows"] for fault in row.get("errors", ())]
    assert sorted((each["line"], each["detail"]) for each in told_faults) == sorted(faults)
    assert listing_of(door, "P-3") == {**IN_SHOP, "hold": True}


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("sku,chanel\nP-1,market\n", 1, "unknown column 'chanel'; did you mean 'channel'?"),
        ("sku,hold,hold\nP-1,true,\n", 1, "column hold stands twice; keep one"),
        ("product\npot\n", 1, "there is no column 'sku', which says which one a row is"),
        ("sku,hold\n,true\n", 2, "column sku: it is empty; name it"),
        ("sku,aim.margin_pct\nP-1,\"2,5\"\n", 2,
         "column aim.margin_pct: if 2,5 has a decimal comma, write 2.5"),
        ("sku,breaks\nP-1,x\n", 2, "column breaks: not JSON at line 1, column 1: Expecting value; "
         "lists stand as JSON in their cell"),
        ("sku,hold\nP-1,true,1\n", 2, "has 3 cells, the header 2; numbers have a decimal point, "
         "and a text with the separator in it stands in quotes"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_file_of_listings_is_refused_in_words(
    door: Door, text: str, line: int, says: str
) -> None:
    answer = post_rows(door, text, CSV)
    assert answer.status_code == 422
    assert in_lines(answer) == [(line, says)]
    assert listing_of(door, "P-1") == IN_SHOP


def test_what_is_no_csv_in_utf_8_is_malformed(door: Door) -> None:
    for body in (b'sku,note\nP-1,"open\n', "sku,note\nP-1,Gr\u00fcn\n".encode("cp1252")):
        answer = post_rows(door, body, CSV)
        assert (problem_of(answer)[0], answer.status_code) == ("malformed-document", 400)


@pytest.mark.parametrize(("form", "empty"), [(NDJSON, '{"done":0}\n'), (CSV, f"{HEADER}\r\n")])
def test_a_shop_that_lists_nothing_has_no_rows_out(own_shop: Door, form: str, empty: str) -> None:
    assert read(own_shop, LISTINGS, form).text == empty


@pytest.mark.parametrize("form", [NDJSON, CSV])
def test_more_than_are_read_at_once_come_out_once_each(own_shop: Door, form: str) -> None:
    make_pot(own_shop)
    names = sorted(f"P-{n}" for n in range(1001))
    list_rows(own_shop, *({"sku": name} for name in names))
    lines = read(own_shop, LISTINGS, form, limit="1").text.splitlines()
    rows = lines[:-1] if form == NDJSON else lines[1:]
    found = [loads(row)["sku"] if form == NDJSON else row.split(",")[0] for row in rows]
    assert found == names


def test_a_cell_that_cannot_be_read_refuses_its_row_alone_if_asked_so(door: Door) -> None:
    text = 'sku,aim.margin_pct\nP-1,"2,5"\nP-2,2.5,\nP-3,1,2\n'
    told = post_rows(door, text, CSV, all_or_none="false").json()
    assert [row["done"] for row in told["rows"]] == ["refused", "changed", "refused"]
    assert told["rows"][0]["errors"] == [
        {"detail": "column aim.margin_pct: if 2,5 has a decimal comma, write 2.5", "line": 2}
    ]
    assert told["rows"][2]["errors"][0]["line"] == 4
    assert listing_of(door, "P-2")["aim"] == {"margin_pct": "2.5"}

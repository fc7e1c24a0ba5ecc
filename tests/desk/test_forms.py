"""A document becomes a form and a form a document again, with nothing lost, whatever is wrong."""

from collections.abc import Iterator
from typing import Any

import pytest

from gramhour.contract.documents import parse_toml
from gramhour.contract.problem import Fault
from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.comparison_form import REQUEST as COMPARISON
from gramhour_service.pages.desk.forms import ABSENT, Field, form_of
from gramhour_service.pages.desk.places import in_words
from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.rate_form import VALUE, rate_form
from gramhour_service.pages.desk.rows import with_row, without_row
from gramhour_service.pages.desk.sent import document_of, with_point
from tests import demo
from tests.http.repriced import as_sent

Fields = dict[str, list[str]]
NUMBERS = {"amount", "whole"}


def leaves(field: Field) -> Iterator[Field]:
    """List the fields of a form that hold a value."""
    inner = (*field.shown, *field.more, *field.rows)
    if not inner and field.member.kind not in ("section", "rows"):
        yield field
    for each in inner:
        yield from leaves(each)


def sent(field: Field) -> Fields:
    """Send a form as a browser does."""
    found: Fields = {"row": rows(field)}
    for leaf in leaves(field):
        if leaf.is_filled:
            found[leaf.pointer] = leaf.value if leaf.member.kind == "words" else [leaf.value]
    return found


def rows(field: Field) -> list[str]:
    found = [each.pointer for each in field.rows]
    for each in (*field.shown, *field.more, *field.rows):
        found += rows(each)
    return found


def plain(value: Any) -> Any:
    """Write every number as a text, as a form has it."""
    match value:
        case dict():
            return {name: plain(each) for name, each in value.items()}
        case list():
            return [plain(each) for each in value]
        case bool():
            return value
    return str(value)


def again(member: Member, document: Any, at: str = "") -> Any:
    return document_of(member, sent(form_of(member, document, {}, at=at)), at)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("12,5", "12.5"),
        ("-0,35", "-0.35"),
        ("0,019", "0.019"),
        ("1.234,50", "1234.50"),
        ("12345,678", "12345.678"),
        ("1.24", "1.24"),
        ("1,234", "1,234"),  # two readers would read two numbers
        ("1,234.50", "1234.50"),
        ("1.234.567", "1234567"),
        ("12,", "12,"),
    ],
)
def test_a_decimal_comma_is_read_as_a_point_where_it_can_be_nothing_else(
    typed: str, read: str
) -> None:
    assert with_point(typed) == read
    found = document_of(REQUEST, {"/product/reject_pct": [typed]})
    assert found == {"product": {"reject_pct": read}}


@pytest.mark.parametrize("name", demo.NAMES)
def test_every_request_of_the_demo_comes_back_from_its_form(name: str) -> None:
    document = as_sent(demo.request(name))
    assert plain(again(REQUEST, document)) == plain(document)


def test_the_demos_comparison_comes_back_from_its_form() -> None:
    path = demo.FOLDER / "shop" / "compare-nozzles.toml"
    document = as_sent(parse_toml(path.read_bytes()))
    document["alternatives"][0]["pieces"] = [{"piece": "half drum"}]
    assert plain(again(COMPARISON, document)) == plain(document)


def rates() -> list[tuple[str, str, Any]]:
    sheet = as_sent(parse_toml(demo.SHEET.read_bytes()))
    kinds = {name: value for name, value in sheet.items() if rate_form(name, "x") is not None}
    shop = [("shop", name, value) for name, value in sheet.items() if name not in kinds]
    return shop + [
        (kind, code, rate) for kind, entries in kinds.items() for code, rate in entries.items()
    ]


@pytest.mark.parametrize(("kind", "code", "value"), rates(), ids=lambda part: str(part)[:30])
def test_every_rate_of_the_demo_comes_back_from_its_form(kind: str, code: str, value: Any) -> None:
    member = rate_form(kind, code)
    assert member is not None
    assert plain(again(member, value, VALUE)) == plain(value)


def test_no_other_rate_has_a_form() -> None:
    assert [rate_form("shop", "materials"), rate_form("shop", "x"), rate_form("x", "x")] == [
        None
    ] * 3


def test_what_is_typed_stays_as_it_was_typed() -> None:
    typed = {
        "/quantity": [" 1O "], "/breaks": ["1; 5,x"], "/aim/margin_pct": ["1,234"],
        "/rate_overrides": ["{not json"], "/product/hazards": ["food contact", "<b>"],
    }  # fmt: skip
    document = document_of(REQUEST, typed)
    assert document == {
        "quantity": "1O", "breaks": [1, 5, "x"], "aim": {"margin_pct": "1,234"},
        "rate_overrides": "{not json", "product": {"hazards": ["food contact", "<b>"]},
    }  # fmt: skip
    shown = {leaf.pointer: leaf.value for leaf in leaves(form_of(REQUEST, document, {}))}
    assert shown["/quantity"] == "1O"
    assert shown["/breaks"] == "1, 5, x"
    assert shown["/rate_overrides"] == "{not json"


def test_numbers_too_long_to_be_any_stay_texts() -> None:
    assert document_of(REQUEST, {"/quantity": ["9" * 5000]}) == {"quantity": "9" * 5000}


def test_an_empty_form_is_no_document() -> None:
    assert document_of(REQUEST, {"/quantity": [""], "row": ["/product/pieces/0"]}) is ABSENT


def test_a_fault_finds_its_field_and_what_holds_it_is_shown() -> None:
    document = {"product": {"pieces": [{"feed": [{"material": "x"}], "power_w": "-1"}]}}
    faults = (
        Fault("/product/pieces/0/feed/0/charge", "one"),
        Fault("/breaks/3", "two"),
        Fault("/product/pieces", "three"),
        Fault("/product", "four"),
    )
    form = form_of(REQUEST, document, {}, faults)
    told = {leaf.pointer: leaf.error for leaf in leaves(form) if leaf.error}
    assert told == {"/product/pieces/0/feed/0/charge": "one", "/breaks": "two"}
    product = next(each for each in form.shown if each.member.name == "product")
    pieces = next(each for each in product.shown if each.member.name == "pieces")
    assert (product.error, pieces.error) == ("four", "three")
    (feed,) = next(e for e in pieces.rows[0].shown if e.member.name == "feed").rows
    assert "charge" in {each.member.name for each in feed.shown}


def test_a_fault_that_names_other_members_calls_them_as_the_form_does() -> None:
    wire = "is a part of print_min (195): see per_build_g and price_per_kg"
    said = "is a part of printing time (195): see grams of it a build and price_per_kg"
    at = "/product/pieces/0/per_build_min"
    form = form_of(REQUEST, {"product": {"pieces": [{}]}}, {}, [Fault(at, wire)])
    (shown,) = (leaf.error for leaf in leaves(form) if leaf.pointer == at)
    assert (shown, in_words(REQUEST, wire), in_words(None, wire)) == (said, said, wire)


def test_a_code_that_is_not_among_the_known_can_still_stand_there() -> None:
    form = form_of(REQUEST, {"channel": "gone"}, {"channels": {"own-shop": "Own shop"}})
    channel = next(each for each in form.shown if each.member.name == "channel")
    assert channel.options == (("own-shop", "Own shop"), ("gone", "gone"))


def test_rows_are_added_and_taken_away() -> None:
    document: Any = {"product": {"pieces": [{"name": "a"}, {"name": "b"}]}}
    with_row(document, "/product/pieces")
    with_row(document, "/product/pieces/1/feed")
    without_row(document, "/product/pieces/0")
    with_row(document, "/product/components")
    assert document == {
        "product": {"pieces": [{"name": "b", "feed": [{}]}, {}], "components": [{}]}
    }


@pytest.mark.parametrize(
    "at",
    ["", "/", "product", "/product/pieces/9", "/product/pieces/x", "/product/pieces/0/name",
     "/product/pieces/-1", "/quantity/0", "/product/pieces/9/feed", "/product/pieces/٣"],
)  # fmt: skip
def test_a_row_where_none_can_be_changes_nothing(at: str) -> None:
    def described() -> Any:
        return {"quantity": 1, "product": {"pieces": [{"name": "a"}]}}

    assert with_row(described(), at) == described()
    assert without_row(described(), at) == described()

"""The file of a workbook: formulas all the way down to the rates and the description."""

import io
import re
import zipfile
from datetime import UTC, date, datetime
from random import Random
from typing import Any

import pytest

from gramhour.contract.answer import Quote
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.answer.quoting import answer_request
from gramhour_service.calculation.rules import RULES
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.workbook.making import workbook_of
from tests import demo
from tests.orders import drawn
from tests.workbook.cells import Cell, cells_of
from tests.workbook.recalculated import Office, Sheets

MOST_BYTES = 60_000
BEYOND = "AN EDIT WENT BEYOND WHAT THIS WORKBOOK CAN COMPUTE: ask for a fresh quote. See Checks: "
MEMBERS = ("Rates", "Description")
REFERENCE = re.compile(r"\[(?:\$(\w+))?\.\$?([A-Z]+)\$?(\d+)\]")


def of_demo(name: str) -> bytes:
    return made(read_request(demo.request(name), demo.sheet()), demo.sheet())


def made(request: QuoteRequest, sheet: RateSheet, **asked: Any) -> bytes:
    return workbook_of(request, sheet, answer_request(request, sheet, **asked))


def of_drawn(order: Any) -> bytes:
    sheet = sound_sheet(order["rates"])
    return made(read_request(order["request"], sheet), sheet)


def letters(column: int) -> str:
    return letters(column // 26 - 1) + chr(65 + column % 26) if column > 25 else chr(65 + column)


def leads_to_members(workbook: bytes) -> dict[Cell, bool]:
    """Say of every number on the quote whether formulas lead from it to rates or description."""
    cells = {(each.sheet, letters(each.column), each.row + 1): each for each in cells_of(workbook)}
    known: dict[tuple[str, str, int], bool] = {}

    def leads(at: tuple[str, str, int]) -> bool:
        if at not in known:
            known[at] = at[0] in MEMBERS
            formula = cells[at].formula or ""
            known[at] = known[at] or any(
                leads((s or at[0], c, int(r))) for s, c, r in REFERENCE.findall(formula)
            )
        return known[at]

    (heads,) = (row for (sheet, _, row), cell in cells.items()
                if (sheet, cell.value) == ("Quote", "Quantity"))  # fmt: skip
    quote = [at for at in cells if at[0] == "Quote" and at[2] > heads]
    return {cells[at]: leads(at) for at in quote if cells[at].kind == "float"}


@pytest.mark.parametrize("name", demo.NAMES)
def test_no_number_of_a_demos_quote_or_its_working_is_a_constant(name: str) -> None:
    cells = cells_of(of_demo(name))
    numbers = [each for each in cells if each.kind == "float" and each.sheet not in MEMBERS]
    assert len(numbers) > 100
    assert [each for each in numbers if each.formula is None] == []


@pytest.mark.parametrize("name", demo.NAMES)
def test_from_every_number_that_is_not_0_formulas_lead_to_the_rates_or_the_description(
    name: str,
) -> None:
    found = leads_to_members(of_demo(name))
    assert len(found) > 30
    assert [each for each, leads in found.items() if not leads and float(each.value)] == []


def test_the_members_are_the_only_constants_of_drawn_quotes_too() -> None:
    for seed in range(10):
        workbook = of_drawn(drawn(Random(seed)))
        numbers = [each for each in cells_of(workbook) if each.kind == "float"]
        assert {each.sheet for each in numbers if each.formula is None} == set(MEMBERS)
        found = leads_to_members(workbook)
        assert [each for each, leads in found.items() if not leads and float(each.value)] == []


def test_hazards_the_rates_and_the_ready_date_stand_above_the_figures() -> None:
    told, cells = ready_quote()
    above = [each for each in cells if each.sheet == "Quote" and each.row < 16]
    (day,) = (each for each in above if each.kind == "date")
    assert told.lead_time
    assert day.value == str(told.lead_time.ready_on)
    texts = {each.row: each.value for each in above if each.column == 0 and each.kind == "string"}
    assert texts[day.row] == "Ready on, as of the quote"
    says = " ".join(texts.values())
    assert "by the rates of 2026-12-01, revision 7; it holds until 2026-12-15" in says
    assert told.lead_time.caution
    for caution in (told.lead_time.caution, *(each.says for each in told.cautions)):
        assert caution in says
    assert [each.hazard for each in told.cautions] == [
        "food contact",
        "small parts for children under three",
    ]


def ready_quote() -> tuple[Quote, list[Cell]]:
    """Quote the planter on a day of the demo, with the cells of its workbook."""
    request, sheet = read_request(demo.request("herb-planter"), demo.sheet()), demo.sheet()
    outside = Outside(datetime(2026, 12, 1, 9, tzinfo=UTC))
    told = answer_request(request, sheet, revision=7, on=date(2026, 12, 1), outside=outside)
    return told, cells_of(workbook_of(request, sheet, told))


def test_an_edit_that_moves_what_the_ready_date_rests_on_is_said_beside_it(calc: Office) -> None:
    request, sheet = read_request(demo.request("herb-planter"), demo.sheet()), demo.sheet()
    told = answer_request(request, sheet, outside=Outside(datetime(2026, 12, 1, 9, tzinfo=UTC)))
    workbook = workbook_of(request, sheet, told)
    dearer = where(cells_of(workbook), "/rates/labour_rate_per_hour")
    longer = where(cells_of(workbook), "/product/pieces/0/print_min")
    edits = [
        ((each.sheet, f"C{each.row + 1}", float(each.value) * 1.1), float(each.value))
        for each in (dearer, longer)
    ]
    beside = [
        next(row[2] for row in shown["Quote"] if row[0] == "Ready on, as of the quote")
        for shown in calc.tried(workbook, edits, ("Quote",))
    ]
    assert beside == [
        "for 25 units; no formula: see Notes",
        "AN EDIT MOVED WHAT THIS DATE RESTS ON: ask for a fresh quote",
    ]


@pytest.mark.parametrize("name", demo.NAMES)
def test_a_demos_workbook_is_a_small_file(name: str) -> None:
    assert len(of_demo(name)) < MOST_BYTES


def test_the_same_request_gives_the_same_file_to_the_byte() -> None:
    assert of_demo("herb-planter") == of_demo("herb-planter")


def test_the_file_is_what_its_media_type_says() -> None:
    archive = zipfile.ZipFile(io.BytesIO(of_demo("herb-planter")))
    assert archive.testzip() is None
    first = archive.infolist()[0]
    assert (first.filename, first.compress_type) == ("mimetype", zipfile.ZIP_STORED)
    assert archive.read("mimetype") == b"application/vnd.oasis.opendocument.spreadsheet"


def test_beside_every_line_stands_the_sentence_of_its_rule() -> None:
    cells = cells_of(of_demo("herb-planter"))
    rows = {each.value: each.row for each in cells if each.sheet == "Quote" and each.column == 0}
    last = max(each.column for each in cells if each.sheet == "Quote")
    beside = {
        each.row: each.value for each in cells if each.sheet == "Quote" and each.column == last
    }
    assert beside[rows["Machine time"]] == RULES["machine_line"].sentence
    assert beside[rows["Unit price"]] == RULES["smallest_allowed_price"].sentence
    figures = [row for name, row in rows.items() if row > rows["Quantity"]]
    assert all(beside[row] in {rule.sentence for rule in RULES.values()} for row in figures)


def where(cells: list[Cell], pointer: str) -> Cell:
    """Find the cell of the member that stands at a pointer."""
    (at,) = (each for each in cells if each.value == pointer)
    return next(
        each for each in cells if (each.sheet, each.row, each.column) == (at.sheet, at.row, 2)
    )


MOVED = [
    ("/rates/materials/asa-green/offer/list_price", "Feedstock"),
    ("/rates/labour_rate_per_hour", "Labour"),
    ("/rates/price_per_kwh", "Energy"),
    ("/rates/machines/large/replacement_price", "Machine time"),
]
REFUSED = [
    ("/rates/labour_rate_per_hour", -1.0, "labour rate per hour is at least 0"),
    (
        "/product/pieces/0/pieces_per_build",
        2.5,
        "piece 1: pieces per build is a whole number, at least 1 and",
    ),
    (
        "/product/pieces/0/feed/0/per_build_g",
        325.0,
        "piece 1: feed 1 per build g is at most feed 1 mass g",
    ),
    (
        "/rates/materials/asa-green/offer/tail_g",
        1000.0,
        "material asa-green: what can be used of a pack, in g, is more than 0",
    ),
    ("/breaks/1", 30.0, "breaks 2 is less than breaks 3"),
]
"""Below 0, no whole number, a part of more than the whole, nothing left, breaks out of order."""

Tried = dict[tuple[str, float | None], Sheets]
TRIED = ("Quote", "Purchases", "Checks")


@pytest.fixture(scope="module")
def tried(calc: Office) -> Tried:
    """Edit one workbook in each way, in one go; under ``None`` as it was made."""
    workbook = of_demo("herb-planter")
    cells = cells_of(workbook)
    asked: list[tuple[str, float | None, Cell]] = [("as it was", None, where(cells, MOVED[0][0]))]
    asked += [(pointer, None, where(cells, pointer)) for pointer, _ in MOVED]
    asked += [(pointer, value, where(cells, pointer)) for pointer, value, _ in REFUSED]
    edits = []
    for name, value, at in asked:
        was = float(at.value)
        put = value if value is not None else was * (1 if name == "as it was" else 1.01)
        edits.append(((at.sheet, f"C{at.row + 1}", put), was))
    shown = calc.tried(workbook, edits, TRIED)
    return {(name, value): each for (name, value, _), each in zip(asked, shown, strict=True)}


@pytest.mark.parametrize(("pointer", "moved"), MOVED)
def test_one_rate_up_by_a_per_cent_moves_its_line_and_the_total(
    tried: Tried, pointer: str, moved: str
) -> None:
    before, after = tried["as it was", None]["Quote"], tried[pointer, None]["Quote"]
    rows = {row[0]: n for n, row in enumerate(before)}
    for name in (moved, "Cost of the order", "Profit"):
        assert after[rows[name]][1:7] != before[rows[name]][1:7], name
    assert after[rows["Design"]] == before[rows["Design"]]


@pytest.mark.parametrize(("pointer", "value", "says"), REFUSED)
def test_an_edit_that_a_fresh_quote_would_refuse_is_pointed_out_on_the_quote(
    tried: Tried, pointer: str, value: float, says: str
) -> None:
    before, shown = tried["as it was", None]["Quote"][1][0], tried[pointer, value]
    assert before == "Every formula holds: change a yellow cell, and all is computed anew."
    left = [row[1] for row in shown["Checks"][2:] if row[0] != "yes"]
    assert says in " | ".join(left)
    assert shown["Quote"][1][0] == BEYOND + left[0]

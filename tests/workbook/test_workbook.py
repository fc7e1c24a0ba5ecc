"""The file of a workbook: formulas all the way down to the rates and the description."""

import io
import re
import zipfile
from random import Random
from typing import Any

import pytest

from gramhour.contract.reading import read_request
from gramhour_service.calculation.rules import RULES
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.workbook.making import workbook_of
from tests import demo
from tests.orders import drawn
from tests.workbook.cells import Cell, cells_of
from tests.workbook.recalculated import Office

MOST_BYTES = 60_000
HEAD_ROWS = 6
MEMBERS = ("Rates", "Description")
REFERENCE = re.compile(r"\[(?:\$(\w+))?\.\$?([A-Z]+)\$?(\d+)\]")


def of_demo(name: str) -> bytes:
    return workbook_of(read_request(demo.request(name), demo.sheet()), demo.sheet())


def of_drawn(order: Any) -> bytes:
    sheet = sound_sheet(order["rates"])
    return workbook_of(read_request(order["request"], sheet), sheet)


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

    quote = [at for at in cells if at[0] == "Quote" and at[2] > HEAD_ROWS]
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
    figures = [row for name, row in rows.items() if row >= HEAD_ROWS]
    assert all(beside[row] in {rule.sentence for rule in RULES.values()} for row in figures)


def where(cells: list[Cell], pointer: str) -> Cell:
    """Find the cell of the member that stands at a pointer."""
    (at,) = (each for each in cells if each.value == pointer)
    return next(
        each for each in cells if (each.sheet, each.row, each.column) == (at.sheet, at.row, 2)
    )


@pytest.mark.parametrize(
    ("pointer", "moved"),
    [
        ("/rates/materials/asa-green/offer/list_price", "Feedstock"),
        ("/rates/labour_rate_per_hour", "Labour"),
        ("/rates/price_per_kwh", "Energy"),
        ("/rates/machines/large/replacement_price", "Machine time"),
    ],
)
def test_one_rate_up_by_a_per_cent_moves_its_line_and_the_total(
    calc: Office, pointer: str, moved: str
) -> None:
    workbook = of_demo("herb-planter")
    cell = where(cells_of(workbook), pointer)
    edit = (cell.sheet, f"C{cell.row + 1}", float(cell.value) * 1.01)
    before, after = calc.shown(workbook)["Quote"], calc.shown(workbook, [edit])["Quote"]
    rows = {row[0]: n for n, row in enumerate(before)}
    for name in (moved, "Cost of the order", "Profit"):
        assert after[rows[name]][1:7] != before[rows[name]][1:7], name
    assert after[rows["Design"]] == before[rows["Design"]]


@pytest.mark.parametrize(
    ("pointer", "value", "says"),
    [
        ("/rates/labour_rate_per_hour", -1.0, "labour_rate_per_hour >= 0"),
        ("/product/pieces/0/pieces_per_build", 2.5, "pieces_per_build >= 1, <= 1000000, whole"),
        ("/product/pieces/0/feed/0/per_build_g", 325.0, "not: per_build_g > mass_g"),
        ("/rates/materials/asa-green/offer/tail_g", 1000.0, "usable grams > 0"),
        ("/breaks/1", 30.0, "breaks 2 < breaks 3"),
    ],
    ids=["below 0", "no whole number", "a part of more", "nothing left", "breaks out of order"],
)
def test_an_edit_that_a_fresh_quote_would_refuse_is_pointed_out_on_the_quote(
    calc: Office, pointer: str, value: float, says: str
) -> None:
    workbook = of_demo("herb-planter")
    cell = where(cells_of(workbook), pointer)
    before = calc.shown(workbook)["Quote"][1][0]
    shown = calc.shown(workbook, [(cell.sheet, f"C{cell.row + 1}", value)], ("Quote", "Checks"))
    assert before == "Every formula holds: change a yellow cell, and all is computed anew."
    assert "AN EDIT WENT BEYOND" in shown["Quote"][1][0]
    assert says in " | ".join([row[1] for row in shown["Checks"][2:] if row[0] != "yes"])

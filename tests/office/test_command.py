"""The extension's command: the selected rows are priced all together, or nothing is changed."""

import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.http.door import secret
from tests.office.conftest import Calc
from tests.office.relay import killed_after
from tests.server.running import demo_store, serving

HEADINGS = ["Part", "material", "mass_g", "print_min", "machine", "channel", "quantity", "Remark"]
ROWS = 50
WRONG = 17
ALL = f"A2:H{ROWS + 1}"


def parts(wrong: int | None = None) -> list[list[Any]]:
    rows: list[list[Any]] = [
        [f"Part {n}", "asa-green", 10 + n / 4, 30 + n, "large", "own-shop", n, f"remark {n}"]
        for n in range(1, ROWS + 1)
    ]
    if wrong is not None:
        rows[wrong - 1][2] = "2,5"
    return rows


@pytest.fixture
def sheet(calc: Calc) -> Calc:
    calc.office.do("write", where=f"A1:H{ROWS + 1}", rows=[HEADINGS, *parts(WRONG)])
    calc.office.do("select", where=ALL)
    return calc


def shown(calc: Calc) -> Any:
    return calc.office.do("read", where=f"A1:P{ROWS + 3}")


def test_49_of_50_rows_are_filled_and_the_wrong_one_stays_with_a_note(sheet: Calc) -> None:
    before = shown(sheet)
    said = sheet.office.do("price_selected")
    assert said == (
        "49 of 50 rows priced. Rows left as they were, with a note why: 18."
    )  # row 17 of the parts is the sheet's 18th
    head, *rows = shown(sheet)
    assert head[8:14] == [f"price at {n}" for n in (1, 5, 10, 25, 50)] + [""]
    with sheet.client() as client:
        for number, row in enumerate(rows[:ROWS], start=1):
            if number == WRONG:
                assert row == before[number]
                continue
            assert row[:8] == before[number][:8]
            quote = client.quote(as_asked(row))
            assert row[8:13] == [float(each.unit_price) for each in quote.breaks]
    assert sheet.office.do("notes") == {
        "C18": "Gramhour: mass_g: must have a decimal point, as in 12.50, no comma: not '2,5'"
    }


def as_asked(row: list[Any]) -> dict[str, Any]:
    _, material, mass, minutes, machine, channel, quantity, _ = row[:8]
    feed = [{"material": material, "mass_g": str(mass)}]
    piece = {"machine": machine, "print_min": str(minutes), "feed": feed}
    return {"product": {"pieces": [piece]}, "channel": channel, "quantity": int(quantity)}


def test_mended_it_is_filled_too_and_the_note_is_gone(sheet: Calc) -> None:
    sheet.office.do("price_selected")
    sheet.office.do("write", where="C18", rows=[[2.5]])
    sheet.office.do("annotate", where="A18", text="ask the customer")
    sheet.office.do("select", where="A18:A18")
    assert sheet.office.do("price_selected") == "1 of 1 rows priced."
    assert sheet.office.do("notes") == {"A18": "ask the customer"}
    assert shown(sheet)[WRONG][8] > 0


def test_a_note_of_ones_own_stays_where_ours_would_stand(sheet: Calc) -> None:
    sheet.office.do("annotate", where="C18", text="measured by hand")
    sheet.office.do("price_selected")
    notes = sheet.office.do("notes")
    assert notes["C18"] == "measured by hand"
    assert notes["N18"].startswith("Gramhour: mass_g: ")


def test_other_breaks_take_away_the_prices_that_no_longer_hold(sheet: Calc) -> None:
    sheet.office.do("price_selected")
    sheet.office.do("write", where="O1:O2", rows=[["breaks"], ["5,200"]])
    sheet.office.do("select", where="A2:H2")
    assert sheet.office.do("price_selected") == "1 of 1 rows priced."
    head, row, *_ = shown(sheet)
    assert head[15] == "price at 200"
    assert row[8] == row[10] == row[11] == row[12] == ""
    assert row[9] >= row[15] > 0


def test_all_of_it_is_one_step_to_undo(sheet: Calc) -> None:
    before = shown(sheet)
    sheet.office.do("price_selected")
    sheet.office.do("undo")
    assert shown(sheet) == before


def test_a_service_that_is_killed_at_row_25_leaves_the_sheet_as_it_was(
    sheet: Calc, tmp_path: Path
) -> None:
    before = shown(sheet)
    store = demo_store(tmp_path / "gramhour.sqlite")
    with serving(store) as service, killed_after(24, service) as address:
        sheet.set_to(address=address)
        said = sheet.office.do("price_selected")
    assert said.startswith(f"Nothing was changed: {address} gives no answer: ")
    assert shown(sheet) == before
    assert sheet.office.do("notes") == {}


@pytest.mark.parametrize(
    ("headings", "words"),
    [
        (["Part", "material"], "this sheet has no heading quantity"),
        (["material", "quantity", "materials"], "the column 'materials' is nearly 'material': "
                                                "write it so, or name it otherwise"),
        (["quantity", "Quantity"], "the column quantity stands twice; keep one of them"),
    ],
)  # fmt: skip
def test_a_sheet_that_cannot_be_read_is_not_changed(
    calc: Calc, headings: list[str], words: str
) -> None:
    last = chr(ord("A") + len(headings) - 1)
    calc.office.do("write", where=f"A1:{last}2", rows=[headings, ["x"] * len(headings)])
    calc.office.do("select", where=f"A2:{last}2")
    assert calc.office.do("price_selected") == f"Nothing was changed: {words}"


def test_what_lies_above_the_headings_or_below_the_rows_is_no_row(calc: Calc) -> None:
    calc.office.do("write", where="A1:B4", rows=[["Our parts", ""], ["", ""],
                   ["sku", "quantity"], ["HP-W", 12]])  # fmt: skip
    calc.office.do("select", where="A1:B2")
    assert calc.office.do("price_selected").endswith("select rows below the headings")
    calc.office.do("select", where="A1:B900")
    assert calc.office.do("price_selected") == "1 of 1 rows priced."
    with calc.client() as client:
        price = client.listing("HP-W").price
        assert price
        listed = [float(each.unit_price) for each in price.breaks]
    assert calc.office.do("read", where="C4:E4") == [listed]


def test_the_menu_does_it_too(sheet: Calc) -> None:
    sheet.office.do("menu", command="service:gramhour.Commands?price")
    assert shown(sheet)[1][8] > 0


def test_the_key_is_in_no_document(sheet: Calc, tmp_path: Path) -> None:
    sheet.office.do("price_selected")
    saved = tmp_path / "saved.ods"
    sheet.office.do("save", url=saved.as_uri())
    with zipfile.ZipFile(saved) as package:
        texts = [package.read(name) for name in package.namelist()]
    assert any(b"price at 50" in text for text in texts)
    assert not any(secret("cost").encode() in text for text in texts)

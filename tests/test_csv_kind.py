"""The rates of a kind as CSV: they come back as they were, run nothing, and faults have a place."""

import csv
import io
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from sqlite_utils import Database

from gramhour.contract.documents import parse_json
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import KINDS, RateSheet
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.cells import defused, restored
from gramhour_service.sheets.csv_importing import import_rows
from gramhour_service.sheets.csv_kind import merged, read_rows, written_rows
from gramhour_service.sheets.rows import ALL_KINDS, SHOP, rates_of
from gramhour_service.sheets.saving import Dated, Saved, import_sheet
from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision
from tests import demo
from tests.client.demand import NOW
from tests.http.door import make_shop, opened
from tests.orders import orders

DATED = Dated(NOW, "tests")
# What spreadsheets take for a formula: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return).
RUN_AWAY = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "'=1", "''", "'", ""]
TAKEN_FOR_NUMBERS = ["007", "1e5", "3/4", "2026-12-01", "10:30", "50%"]
LEFT_ALONE = ["'n Huis", "PLA = fine", "0.4 mm brass", "a,b", 'the "good" one', "; x", "Grün\nzwei"]


def stored(sheet: RateSheet, kind: str) -> dict[str, Any]:
    """The rates of a kind as the store keeps them."""
    kept = {code: value for (of, code), value in rates_of(sheet).items() if of == kind}
    return {code: parse_json(msgspec.json.encode(value)) for code, value in kept.items()}


def read_back(sheet: RateSheet, kind: str, text: str) -> RateSheet:
    """The sheet with its rates of a kind as the file has them, and with no other."""
    rates = {row.code: merged(row, None) for row in read_rows(kind, text.encode()).rows}
    plain: dict[str, Any] = msgspec.to_builtins(sheet, builtin_types=(Decimal,))
    if kind == SHOP:
        return sound_sheet({of: plain[of] for of in KINDS if of in plain} | rates)
    return sound_sheet(plain | {kind: rates})


def sound(drawn: Any) -> RateSheet:
    """Read a drawn sheet, but for the few in which a drawn number was rounded to minus zero."""
    try:
        return sound_sheet(drawn)
    except Refused as refused:
        assume(any("minus zero" not in fault.detail for fault in refused.faults))
        raise


def table(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def faults(kind: str, text: str | bytes) -> list[tuple[int, str]]:
    """The faults of a file that is taken into the demo shop, by line."""
    body = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(Refused) as refused:
        taken_in(kind, body)
    assert refused.value.type == "invalid-rates"
    return [(_line(fault), fault.detail) for fault in refused.value.faults]


def _line(fault: Fault) -> int:
    assert isinstance(fault.line, int)
    return fault.line


def taken_in(kind: str, *bodies: bytes) -> list[Saved]:
    """Take files into a store of the demo shop; after a refusal nothing is there but the shop."""
    with TemporaryDirectory() as folder, closing(_a_store(Path(folder) / "store")) as store:
        try:
            return [import_rows(store, read_rows(kind, body), DATED) for body in bodies]
        except Refused:
            assert newest_revision(store) == 1
            raise


def _a_store(path: Path) -> Database:
    store = open_store(path, create=True)
    import_sheet(store, demo.sheet(), now=NOW, made_by="tests")
    return store


@pytest.mark.parametrize("kind", ALL_KINDS)
@given(order=orders())
def test_drawn_sheets_come_back_as_they_were(kind: str, order: Any) -> None:
    sheet = sound(order["rates"])
    assert read_back(sheet, kind, written_rows(kind, stored(sheet, kind))) == sheet


texts = st.text(
    st.characters(exclude_categories=["Cs"]) | st.sampled_from("=+-@\t\r\n'\",;0123456789. "),
    max_size=30,
)


@given(name=texts, note=texts)
def test_any_name_and_note_come_back_and_none_begins_like_a_formula(name: str, note: str) -> None:
    plain = msgspec.to_builtins(demo.sheet(), builtin_types=(Decimal,))
    plain["materials"] = {**plain["materials"], "drawn": {"price_per_kg": 20}}
    plain["materials"]["drawn"] |= {"name": name, "note": note}
    sheet = sound_sheet(plain)
    text = written_rows("materials", stored(sheet, "materials"))
    assert read_back(sheet, "materials", text) == sheet
    header, *rows = table(text)
    for cells in rows:
        for cell in (cells[header.index("name")], cells[header.index("note")]):
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize("text", RUN_AWAY + TAKEN_FOR_NUMBERS)
def test_what_a_spreadsheet_would_not_leave_alone_gets_an_apostrophe(text: str) -> None:
    assert defused(text) == f"'{text}"
    assert restored(f"'{text}") == text


@pytest.mark.parametrize("text", LEFT_ALONE)
def test_other_texts_stay_as_they_are_both_ways(text: str) -> None:
    assert (defused(text), restored(text)) == (text, text)


def test_the_header_is_the_contracts_order_and_amounts_stand_as_they_were_stored() -> None:
    text = written_rows("materials", stored(demo.sheet(), "materials"))
    header, *rows = table(text)
    assert header == [
        *("code", "name", "note", "price_per_kg", "offer.pack_g", "offer.list_price"),
        *("offer.tiers", "offer.rebate_pct", "offer.shipping_per_purchase"),
        *("offer.free_shipping_from_packs", "offer.tail_g", "offer.usual_packs"),
        "offer.delivery_working_days",
        *("density_g_cm3", "diameter_mm", "first_pass_yield_pct", "failure_factor", "abrasion"),
    ]
    assert text.count("\r\n") == text.count("\n") == len(rows) + 1
    (green,) = (dict(zip(header, cells, strict=True)) for cells in rows if cells[0] == "asa-green")
    told = stored(demo.sheet(), "materials")["asa-green"]
    assert green["name"] == told["name"]
    assert green["density_g_cm3"] == told["density_g_cm3"]
    assert written_rows("machines", {}).startswith("code,name,note,rate_per_hour,")
    assert written_rows("channels", {}).count("aim.margin_pct") == 1


def test_what_is_sheet_wide_is_a_row_a_member() -> None:
    rows = table(written_rows(SHOP, stored(demo.sheet(), SHOP)))
    assert rows[0] == ["code", "value"]
    assert ["currency", "EUR"] in rows
    assert ["labour_rate_per_hour", "32.00"] in rows


def test_a_negative_number_is_a_number_to_the_spreadsheet() -> None:
    text = written_rows("channels", {"x": {"prices_include_tax": True, "margin_floor_pct": "-5"}})
    header, cells = table(text)
    told = dict(zip(header, cells, strict=True))
    assert (told["margin_floor_pct"], told["prices_include_tax"]) == ("-5", "true")


@pytest.mark.parametrize("kind", ALL_KINDS)
@pytest.mark.parametrize("form", ["as written", "mark", "semicolons", "tabs", "bare newlines"])
def test_an_export_taken_back_is_no_revision_however_a_spreadsheet_saves_it(
    kind: str, form: str
) -> None:
    text = written_rows(kind, stored(demo.sheet(), kind))
    match form:
        case "mark":
            text = "\N{ZERO WIDTH NO-BREAK SPACE}" + text
        case "semicolons" | "tabs":
            again = io.StringIO(newline="")
            csv.writer(again, delimiter=";" if form == "semicolons" else "\t").writerows(
                table(text)
            )
            text = again.getvalue()
        case "bare newlines":
            text = text.replace("\r\n", "\n").replace("true", "TRUE") + "\n\n"
    (saved,) = taken_in(kind, text.encode())
    assert saved.revision is None


def test_rows_add_and_change_and_remove_nothing_and_other_columns_stay() -> None:
    rows = b"code,price_per_kg,name\r\nasa-new,31.50,ASA\r\n"
    (saved,) = taken_in("materials", rows)
    assert (saved.revision, dict(saved.changes)) == (
        2,
        {("materials", "asa-new"): '{"name":"ASA","price_per_kg":"31.50"}'},
    )
    before = stored(demo.sheet(), "nozzles")["n04"]
    (saved,) = taken_in("nozzles", b"price,code\n99.5,n04\n")
    ((key, after),) = saved.changes.items()
    assert key == ("nozzles", "n04")
    assert parse_json((after or "").encode()) == before | {"price": "99.5"}


def test_an_empty_cell_takes_the_member_away_and_objects_with_nothing_left() -> None:
    channel = stored(demo.sheet(), "channels")["own-shop"]
    assert "aim" in channel
    (saved,) = taken_in(
        "channels",
        b"code,aim.margin_pct,aim.markup_pct,aim.unit_price,name\nown-shop,,,,\n",
    )
    (after,) = saved.changes.values()
    kept = {name: each for name, each in channel.items() if name not in ("aim", "name")}
    assert parse_json((after or "").encode()) == kept


def test_every_fault_of_the_cells_has_its_line_and_column_and_remedy() -> None:
    assert faults(
        "components",
        "code;name;offers;spare_pct;usual_pieces\r\n"
        'screw;"two\r\nlines";not json;2,5;3\r\n'
        ";;[];;\r\n"
        "nut;Nut;[];1\r\n",
    ) == [
        (
            2,
            "column offers: not JSON at line 1, column 1: Expecting value; lists stand as JSON in "
            "their cell",
        ),
        (2, "column spare_pct: if 2,5 has a decimal comma, write 2.5"),
        (4, "column code: it is empty; name it"),
        (
            5,
            "has 4 cells, the header 5; numbers have a decimal point, and a text with the "
            "separator in it stands in quotes",
        ),
    ]


def test_every_fault_of_the_rates_has_its_line_and_column_too() -> None:
    assert faults(
        "machines",
        "code,power_w,rate_per_hour,usual_nozzle\n"
        "large,-1,,n04\n"
        "tiny,,cheap,n99\n"
        "Big One,1,1,n04\n",
    ) == [
        (2, "column power_w: must be 0 or more, not '-1'"),
        (3, "column rate_per_hour: must be a plain decimal number such as 12.50, not 'cheap'"),
        (
            3,
            "column usual_nozzle: unknown code 'n99': the sheet has none such in nozzles; there "
            "are: n04, n06, n08",
        ),
        (3, "column power_w: 'power_w' is missing; it has no default"),
        (
            4,
            "Big One: must be a code of small letters, digits and hyphens, no hyphen first, at "
            "most 63, such as asa-green, not 'Big One'",
        ),
    ]


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("materials", "code,prise_per_kg\na,1\n", "unknown column 'prise_per_kg'; did you mean"),
        ("materials", "code" + 500 * ",note" + "\n", "has 501 columns; there are "),
        ("materials", "code,name,name\na,1,2\n", "column name stands twice; keep one"),
        ("materials", "name\nx\n", "there is no column 'code', which says which one a row is"),
        ("materials", "", "there is no column 'code'"),
        ("materials", "code,price_per_kg\na,27,40\n", "has 3 cells, the header 2; numbers have a"),
        ("materials", "code,price_per_kg\na,1\na,2\n", "materials/a is changed twice"),
        ("components", 'code,offers\na,"[{""price"": -1}]"\n', "column offers: /0/price in it: "),
        ("channels", "code,prices_include_tax\na,WAHR\n", "must be true or false, not a text"),
        ("nozzles", "code,life_kg\na,1E+999999\n", "column life_kg: must be a plain decimal"),
        ("shop", "code,value\nprice_per_kwh,\n", "column value: it is empty; give a value"),
        ("shop", "code,value\nmaterials,{}\n", "nothing sheet-wide is called 'materials'"),
        ("shop", "code,value\ncurrency,EUX\n", "column value: "),
    ],
)
def test_what_cannot_be_a_file_of_rates_is_refused_in_words(
    kind: str, text: str, says: str
) -> None:
    assert says in "; ".join(detail for _, detail in faults(kind, text))


def test_a_kind_can_be_asked_for_as_csv_which_has_a_tag_of_its_own(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "store")
    with opened(Settings(store=path)) as door:

        def ask(kind: str, accept: str, **headers: str) -> Any:
            sent = {"Accept": accept, **headers}
            return door.ask("GET", f"/v1/rates/{kind}", "cost", headers=sent)

        for kind in ALL_KINDS:
            told = ask(kind, "text/csv")
            assert told.headers["content-type"].startswith("text/csv")
            assert told.content.decode() == written_rows(kind, stored(demo.sheet(), kind))
            tags = {told.headers["etag"], ask(kind, "application/json").headers["etag"]}
            assert tags == {'"r1@2026-12-01.csv"', '"r1@2026-12-01"'}
        for tag, status in (('"r1@2026-12-01"', 200), ('W/"r1@2026-12-01.csv"', 304)):
            again = ask("materials", "text/csv", **{"If-None-Match": tag})
            assert again.status_code == status
        assert ask("materials", "*/*").json()["kind"] == "materials"
        assert ask("spools", "text/csv").status_code == 404
        (row, *_) = read_rows("nozzles", ask("nozzles", "text/csv").content).rows
        assert row.code == "n04"


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b'code,name\na,"open\n', "not CSV: "),
        ("code,name\na,Gr\u00fcn\n".encode("cp1252"), "not UTF-8 at byte 14; save it as CSV in"),
    ],
    ids=["a quote left open", "another encoding"],
)
def test_what_is_no_csv_in_utf_8_is_refused_in_words(body: bytes, says: str) -> None:
    with pytest.raises(Refused, match=says) as refused:
        taken_in("materials", body)
    assert refused.value.type == "malformed-document"

"""What the desk makes of an answer: rows, reasons, drawings; and whose changes a past tells."""

import re
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import msgspec
import pytest

from gramhour_service.answer.quoting import answer_quote
from gramhour_service.pages.desk.comparison_shown import losing_at, rows_of
from gramhour_service.pages.desk.quote_shown import MOST_SHOWN, shown_quote
from gramhour_service.pages.desk.report_shown import shown_lines
from gramhour_service.pages.desk.texts import effect_told
from gramhour_service.pages.drawing.intervals import intervals
from gramhour_service.pages.drawing.machines import machines_over_time
from gramhour_service.pages.drawing.shares import shares
from gramhour_service.sheets.history import past_of
from gramhour_service.store.opening import open_store
from tests import demo
from tests.desk.at_desk import Fields, Seen, main_of, signed_in
from tests.http.door import Door
from tests.http.repriced import as_sent, describe, listed

EXAMPLES = Path(__file__).parents[2] / "openapi" / "examples"


def example(name: str) -> Any:
    return msgspec.json.decode((EXAMPLES / f"{name}.json").read_bytes())


def beads(drawn: str, role: str = "") -> list[tuple[float, float]]:
    """Read from where to where the beads of a drawing go."""
    tree = ElementTree.fromstring(drawn)
    found = []
    for each in tree.iter("polyline"):
        if each.get("class") == f"bead {role}".strip():
            (x1, _), (x2, _) = (map(float, at.split(",")) for at in each.get("points", "").split())
            found.append((x1, x2))
    return found


def test_the_asked_quantity_comes_first_and_once() -> None:
    quote = example("quote")
    shown = shown_quote(quote)
    asked = quote["at_quantity"]["quantity"]
    others = [each["quantity"] for each in quote["breaks"] if each["quantity"] != asked]
    assert [column["quantity"] for column in shown.columns] == [asked, *others]
    assert shown.left_out == 0


def test_quantities_beyond_what_a_screen_holds_are_counted() -> None:
    quote = example("quote")
    one = quote["breaks"][0]
    many = {**quote, "breaks": [{**one, "quantity": 1000 + n} for n in range(20)]}
    shown = shown_quote(many)
    assert len(shown.columns) == MOST_SHOWN
    assert shown.left_out == 21 - MOST_SHOWN


def test_beads_are_as_long_as_their_part_of_the_net_price() -> None:
    """The longest bead fills its column; the others stand to it as their amounts do."""
    column = example("explained-quote")["at_quantity"]
    drawn = shares([column], "EUR")
    amounts = [
        float(amount)
        for amount in (
            *(each for name, each in column["cost"].items() if name != "total"),
            *(each for name, each in column["fees"].items() if name != "total"),
        )
        if float(amount)
    ]
    (profit,) = beads(drawn, "asked")
    lengths = [right - left for left, right in beads(drawn)]
    unit = (profit[1] - profit[0]) / float(column["profit"])
    expected = [max(amount * unit, 0.5) for amount in amounts]
    assert lengths == pytest.approx(expected, abs=0.02)


def test_a_loss_is_drawn_as_one() -> None:
    column = {**example("quote")["at_quantity"], "profit": "-3.0000"}
    assert len(beads(shares([column], "EUR"), "care")) == 1
    assert beads(shares([column], "EUR"), "asked") == []


def test_each_build_of_a_machine_is_a_bead_and_none_overlaps() -> None:
    lead_time = example("quote")["lead_time"]
    drawn = machines_over_time(lead_time)
    builds = [
        start for plan in lead_time["machines"] for each in plan["builds"]
        for start in each["starts_at"]
    ]  # fmt: skip
    found = beads(drawn)
    assert len(found) == len(builds) > 0
    assert all(0 < left < right <= 760 for left, right in found)
    assert machines_over_time({**lead_time, "machines": []}) == ""
    plan = lead_time["machines"][0]
    assert plan["builds"][0]["piece"] == "/product/pieces/0"
    assert f"<title>{plan['machine']} {plan['number']}: piece 1, from " in drawn


def test_stretches_are_drawn_where_they_are_and_told_in_words() -> None:
    comparison = {
        "alternatives": [{"label": "a"}, {"label": "<b>"}],
        "intervals": [
            {"from_quantity": 1, "to_quantity": 9, "label": "a"},
            {"from_quantity": 10, "to_quantity": 99, "label": "<b>"},
            {"from_quantity": 100, "to_quantity": 100, "label": None},
        ],
    }
    drawn = intervals(comparison)
    unit = (748 - 12) / 100  # a hundred quantities between the two ends of the drawing
    ends = [each for bead in beads(drawn, "asked") for each in bead]
    expected = [12, 12 + 9 * unit - 6, 12 + 9 * unit, 12 + 99 * unit - 6]
    assert ends == pytest.approx(expected, abs=0.01)
    assert "a from 1 to 9; &lt;b&gt; from 10 to 99; none from 100 to 100." in drawn


def test_a_comparison_is_listed_by_rank() -> None:
    comparison = example("comparison")
    rows = rows_of(comparison)
    ranked = [
        (ranking["quantity"], place, each["label"])
        for ranking in comparison["rankings"]
        for place, each in enumerate(ranking["alternatives"], 1)
    ]
    assert [(row.quantity, row.place, row.label) for row in rows] == ranked
    assert {row.at["quantity"] == row.quantity for row in rows} == {True}


def test_where_even_the_best_way_loses_money_that_is_said() -> None:
    ways: dict[int, list[str | None]] = {
        1: ["-0.5", "-2"],
        5: ["0", "-1"],
        9: ["1", "-3"],
        12: [None, None],
    }
    comparison: dict[str, Any] = {
        "criterion": "contribution_per_machine_hour",
        "rankings": [
            {"quantity": quantity, "alternatives": [{"value": value} for value in values]}
            for quantity, values in ways.items()
        ],
    }
    assert losing_at(comparison) == [1]
    assert losing_at({**comparison, "criterion": "unit_cost"}) == []


def test_a_row_of_a_report_shows_the_price_that_moves_most_and_the_least_margin() -> None:
    def at(quantity: int, old: str, new: str, least: str | None) -> dict[str, Any]:
        return {"from_quantity": quantity, "old_unit_price": old, "unit_price": new,
                "least_margin_pct": least}  # fmt: skip

    line = {"breaks": [at(1, "10", "10", "40"), at(5, "8", "9", "30"), at(9, "7", "6.5", None)]}
    new = {"breaks": [{"from_quantity": 1, "unit_price": "5", "least_margin_pct": "1"}]}
    failed: dict[str, Any] = {"breaks": []}
    rows = shown_lines([line, new, failed])
    assert [row.moved and row.moved["from_quantity"] for row in rows] == [5, 1, None]
    assert [row.least and row.least["from_quantity"] for row in rows] == [5, 1, None]


def test_a_rates_past_says_who_changed_it_when_why_and_what(door: Door, store: Path) -> None:
    desk = signed_in(door, "rates")
    place = "/desk/rates/shop/labour_rate_per_hour"
    desk.send(place, {"/value": "33.00", "note": "dearer", "do": "save"})
    planned = {"/value": "34.00", "note": "next year", "effective_from": "2027-01-01"}
    desk.send(place, {**planned, "do": "save"})
    desk.send("/desk/rates/shop/price_per_kwh", {"/value": "0.40", "do": "save"})
    with closing(open_store(store)) as reading:
        past = past_of(reading, ("shop", "labour_rate_per_hour"), 2)
    told = [
        (p.revision.number, p.revision.made_by, p.revision.note, d.effective_from, d.done,
         str(m.before), str(m.after))
        for p in past for d in p.differences for m in d.members
    ]  # fmt: skip
    assert told == [
        (3, "rates", "next year", date(2027, 1, 1), "changed", "33.00", "34.00"),
        (2, "rates", "dearer", date(2026, 12, 1), "changed", "32.00", "33.00"),
    ]
    shown = desk.get(place).text
    assert re.findall(r"<del>(.*?)</del> → <ins>(.*?)</ins>", shown) == [
        ("33.00", "34.00"), ("32.00", "33.00")
    ]  # fmt: skip


@pytest.mark.parametrize("do", ["try", "save"])
def test_a_day_before_the_first_rates_is_a_fault_of_the_day(door: Door, do: str) -> None:
    desk = signed_in(door, "rates")
    sent = {"/value": "33.00", "effective_from": "2020-01-01", "note": "late", "do": do}
    page = desk.send("/desk/rates/shop/labour_rate_per_hour", sent).text
    assert '<li id="fault-1"><a href="#at-effective-from">effective from</a>: no rates' in page
    assert 'id="at-value-fault"' not in page
    assert "changed it since" not in page


def test_a_day_on_which_another_value_or_none_holds_blames_nobody(door: Door) -> None:
    desk = signed_in(door, "rates")
    new, place = "/desk/rates/materials/new", "/desk/rates/materials/late?on=2026-12-10"
    sent = {"code": "late", "/value/price_per_kg": "22", "effective_from": "2026-12-10"}
    assert "It is saved." in main_of(desk.send(new, {**sent, "do": "save"}))
    early: Fields = {"/value/price_per_kg": "21", "effective_from": "2026-12-05", "do": "save"}
    told = desk.send(place, early)
    assert "There is no such rate on Sat 5 Dec 2026 . Nothing of yours is saved" in main_of(told)
    assert "If-" not in told.text
    over: Fields = {**Seen(told.text).fields, "over": "*"}
    assert "Revision 3, in force from Sat 5 Dec 2026" in main_of(desk.post(place, over))
    told = desk.send(place, {**early, "/value/price_per_kg": "20"})
    assert "Another value holds on Sat 5 Dec 2026 than the one you opened." in main_of(told)
    assert "Revision 3 by rates, in force from Sat 5 Dec 2026 ." in main_of(told)


@pytest.mark.parametrize("path", ["/desk/bench", "/desk/bench?load=no-such"])
def test_a_bench_on_which_nothing_is_described_yet_blames_nobody(door: Door, path: str) -> None:
    desk = signed_in(door, "cost")
    page = desk.get(path)
    assert page.status_code == 200, page.text
    assert "Fill in what is needed, and quote it." in page.text
    assert "is missing" not in page.text
    sent = desk.send("/desk/bench", {"quote": "true"}, path)
    assert "The request has faults." in sent.text
    assert "'product' is missing" not in sent.text, "no field of the page is called so"
    assert '<a href="#at-product-pieces">product, pieces</a>: nothing is described' in sent.text
    assert 'id="at-product-pieces"' in sent.text


def test_a_listing_of_a_shape_stands_on_the_bench_in_its_own_filament(door: Door) -> None:
    cube = {"box": {"x_mm": 20, "y_mm": 20, "z_mm": 20}, "volume_cm3": 8, "area_cm2": 24}
    piece = {"machine": "small-1", "profile": "fine-04", "material": "pla-chalk", "geometry": cube}
    clear = {"name": "clear", "materials": {"pla-chalk": "petg-clear"}}
    describe(door, "cube", {"pieces": [piece]}, clear)
    sold = {"product": "cube", "channel": "own-shop"}
    listed(door, {"sku": "C", **sold}, {"sku": "C-CLEAR", "variant": "clear", **sold})
    desk = signed_in(door, "listings")
    materials = {}
    for name in ("cube", "C", "C-CLEAR"):
        page = desk.get(f"/desk/bench?load={name}")
        assert page.status_code == 200, page.text
        materials[name] = Seen(page.text).fields["/product/pieces/0/material"]
    assert materials == {"cube": ["pla-chalk"], "C": ["pla-chalk"], "C-CLEAR": ["petg-clear"]}
    saved = desk.send(
        "/desk/bench", {"save": "product", "product-code": "cube"}, "/desk/bench?load=C-CLEAR"
    )
    assert "These are the filaments of the variant clear" in saved.text


@pytest.mark.parametrize("name", demo.NAMES)
def test_every_quote_of_the_demo_can_be_set_out_with_its_reasons(name: str) -> None:
    told = answer_quote(demo.request(name), demo.sheet(), explain=True)
    quote = msgspec.json.decode(msgspec.json.encode(told))
    shown = shown_quote(quote)
    assert all(line.why is not None for line in shown.lines)
    assert all(line.amounts[0] == line.why["value"] for line in shown.lines if line.why)
    ElementTree.fromstring(shares(shown.columns, quote["currency"]))


def test_a_reason_that_no_sum_tells_is_written_out_as_its_formula(door: Door) -> None:
    describe(door, "hook", as_sent(demo.request("balcony-hook")["product"]))
    listed(door, {"sku": "H", "product": "hook", "channel": "own-shop"})
    told = signed_in(door, "listings").get("/desk/bench?load=H").text
    assert "round(sum(k^log2(90 / 100) for k = 60 + 1 to 60 + 1), 6)" in told


def test_what_moves_a_price_is_told_with_its_sign_price_first() -> None:
    told = effect_told({"unit_price": "-0.01", "unit_cost": "0.0000"})
    assert re.sub("<.*?>", "", told) == "-0.01, cost +0.0000"

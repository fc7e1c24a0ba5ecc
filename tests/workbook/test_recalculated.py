"""A real office computes a workbook to what the service answers, as it is made and once edited.

``--long`` looks at 500 drawn quotes and 100 drawn edits, and says what it found.
"""

from collections import Counter
from collections.abc import Callable
from random import Random
from typing import Any

import pytest

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.answer.quoting import answer_quote, answer_request
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.workbook.making import workbook_of
from tests import demo
from tests.orders import all_breaks, drawn, price
from tests.workbook.agreement import LINES, Difference, differences
from tests.workbook.cells import cells_of
from tests.workbook.edits import Change, changed, drawn_change
from tests.workbook.recalculated import Office, Sheets
from tests.workbook.ties import drawn_ties

LINES_AGREE = 0.999
Record = Callable[[str, object], None]
FIRST_CHECK = 2
ALL = ("Quote", "Purchases", "Checks")


def workbook_for(order: Any) -> bytes:
    sheet = sound_sheet(order["rates"])
    return made(read_request(order["request"], sheet), sheet)


def made(request: QuoteRequest, sheet: RateSheet) -> bytes:
    return workbook_of(request, sheet, answer_request(request, sheet))


pytestmark = pytest.mark.timeout(3_600)  # --long takes some minutes


def how_many(config: pytest.Config, usual: int, long: int) -> int:
    return long if config.getoption("long") else usual


def unchecked(shown: Sheets) -> list[str]:
    """List what no longer holds of what the formulas rely on."""
    return [row[1] for row in shown["Checks"][FIRST_CHECK:] if row[0] != "yes"]


def check_agreement(found: list[tuple[Quote, list[Difference]]]) -> str:
    """Prices, fees, tax agree to the minor unit; of a thousand lines one may be a last place off.

    So may what is added up of such a line. Say what was found.
    """
    lines = sum(len(LINES) for quote, _ in found for _ in all_breaks(quote))
    off = [each for _, differing in found for each in differing]
    assert [each for each in off if not each.is_in_the_last_place] == []
    of_lines = [each for each in off if each.is_of_a_line]
    assert len(of_lines) <= lines * (1 - LINES_AGREE), of_lines
    return f"{len(found)} quotes, {lines} lines, {len(of_lines)} of them off by 0.0001: {off}"


@pytest.mark.parametrize("name", demo.NAMES)
def test_a_demos_workbook_computes_to_the_answer(calc: Office, name: str) -> None:
    request, sheet = demo.request(name), demo.sheet()
    shown = calc.shown(made(read_request(request, sheet), sheet), sheets=ALL)
    assert list(differences(answer_quote(request, sheet), shown)) == []
    assert unchecked(shown) == []


def test_drawn_quotes_compute_to_the_answer(
    calc: Office, pytestconfig: pytest.Config, record_property: Record
) -> None:
    found = []
    for seed in range(how_many(pytestconfig, 20, 500)):
        order = drawn(Random(seed))
        quote, shown = price(order), calc.shown(workbook_for(order))
        found.append((quote, list(differences(quote, shown))))
    record_property("recalculated", check_agreement(found))


def test_ties_drawn_on_purpose_are_all_rounded_as_the_service_rounds_them(
    calc: Office, pytestconfig: pytest.Config
) -> None:
    for seed in range(how_many(pytestconfig, 8, 200)):
        order = drawn_ties(Random(seed))
        shown = calc.shown(workbook_for(order))
        assert list(differences(price(order), shown)) == [], seed


def edited(calc: Office, seed: int) -> tuple[Change, Sheets, Quote | None, bool]:
    """Edit a cell of a drawn quote's workbook, and quote the same change afresh if it is sound."""
    order = drawn(Random(seed))
    quote, workbook = price(order), workbook_for(order)
    change = drawn_change(Random(f"edit {seed}"), cells_of(workbook))
    shown = calc.shown(workbook, [change.edit], ALL)
    moved = any(differences(quote, shown))
    try:
        return (
            change,
            shown,
            price(changed(order, [b.quantity for b in quote.breaks], change)),
            moved,
        )
    except Refused:
        return change, shown, None, moved


def test_an_edited_workbook_computes_to_a_fresh_quote_or_says_that_it_cannot(
    calc: Office, pytestconfig: pytest.Config, record_property: Record
) -> None:
    found: Counter[str] = Counter()
    number = how_many(pytestconfig, 12, 100)
    for seed in range(number):
        change, shown, fresh, moved = edited(calc, seed)
        off = [] if fresh is None else list(differences(fresh, shown))
        if fresh is None or (off and unchecked(shown)):
            assert unchecked(shown), (seed, change)
            found["pointed out"] += 1
            continue
        assert [each for each in off if not each.is_in_the_last_place] == [], (seed, change)
        found["moved" if moved else "equal, as before"] += 1
    record_property("edited", f"{number} edits: {dict(found)}")
    assert found["pointed out"] <= number // 10, found
    assert found["moved"] >= number // 3, found

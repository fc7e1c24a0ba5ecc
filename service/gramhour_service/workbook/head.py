"""What stands above the figures of a quote: rates, ready date and cautions, as of the quote.

None of it is computed in cells: the date comes from a calendar, the rest is words.
"""

from collections.abc import Iterator
from datetime import date
from textwrap import wrap
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.answer import Quote
from gramhour_service.workbook import document as ods
from gramhour_service.workbook.book import FIRST_COLUMN, QUOTE, Book, letters
from gramhour_service.workbook.document import STATE
from gramhour_service.workbook.figures import plain

WIDEST = 150
"""Characters of a line that is not wrapped, over the columns of a quote."""

ABOVE, BELOW = 3, 3
"""Rows of the head that are always there: title, state and currency; a blank, two of headings."""

RESTS_ON = ("use.machine_h", "use.build_starts", "use.labour_min")
NO_STAFFED_HOURS = "No ready date: the rates say no staffed hours."
MOVED = "AN EDIT MOVED WHAT THIS DATE RESTS ON: ask for a fresh quote"


class Line(NamedTuple):
    """A line above a quote; the one with a day says what that is."""

    says: str
    style: str = ods.PLAIN
    day: date | None = None


def head_of(told: Quote) -> list[Line]:
    """List what is to be said of a quote beside its figures."""
    lines = [*_rates(told), *_ready(told)]
    if told.cautions:
        lines.append(Line("Cautions", STATE))
    for each in told.cautions:
        lines += _wrapped(f"{each.hazard.capitalize()}: {each.says}")
    return lines


def rows_above(lines: list[Line]) -> int:
    """Count the rows above the first figure."""
    return ABOVE + len(lines) + BELOW


def head_rows(book: Book, lines: list[Line], told: Quote) -> Iterator[str]:
    """Write the lines, and a blank one."""
    for line in lines:
        if line.day is None:
            yield ods.row(ods.text(line.says, line.style))
            continue
        units = told.at_quantity.quantity
        asked = f"for {units} {'unit' if units == 1 else 'units'}; no formula: see Notes"
        holds = f'IF({_stands(book)};"{asked}";"{MOVED}")'
        says = ods.text(line.says, line.style)
        yield ods.row(says, ods.day(line.day), ods.formula(holds, asked, ods.PLAIN))
    yield ods.row()


def _stands(book: Book) -> str:
    """Write whether what a ready date rests on is as it was quoted."""
    column = book.quote.columns[0]
    held = [f"{book.address(column.quantity, QUOTE)}={plain(column.quantity):f}"]
    rows = {row.figure: n for n, row in enumerate(book.rows)}
    for name, _, value in column.figures:
        if name in RESTS_ON:
            at = f"[.{letters(FIRST_COLUMN[QUOTE])}{book.head_rows + rows[name] + 1}]"
            held.append(f"ROUND({at}-{plain(value):f};4)=0")
    return f"AND({';'.join(held)})"


def _rates(told: Quote) -> list[Line]:
    if told.rates_on is UNSET:
        return []
    revision = "" if told.rates_revision is UNSET else f", revision {told.rates_revision}"
    until = "" if told.valid_until is UNSET else f"; it holds until {told.valid_until:%Y-%m-%d}"
    return [Line(f"As it was quoted: by the rates of {told.rates_on}{revision}{until}.")]


def _ready(told: Quote) -> list[Line]:
    ready = told.lead_time
    if ready is UNSET:
        return [Line(NO_STAFFED_HOURS)]
    if ready is None:
        why = "" if told.no_lead_time is UNSET else told.no_lead_time
        return _wrapped(f"No ready date: {why}.")
    caution = [] if ready.caution is UNSET else _wrapped(ready.caution)
    return [Line("Ready on, as of the quote", STATE, ready.ready_on), *caution]


def _wrapped(says: str) -> list[Line]:
    return [Line(part) for part in wrap(says, WIDEST)]

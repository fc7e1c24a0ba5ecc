"""A workbook's rows and the addresses of its cells."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from gramhour_service.workbook.figures import CELL, Condition, Figure, has_cell, named
from gramhour_service.workbook.layout import WORKING, Layout, Place
from gramhour_service.workbook.purchases import Bought
from gramhour_service.workbook.quoted import Column, InFigures

QUOTE, PURCHASES, RATES, DESCRIPTION = "Quote", "Purchases", "Rates", "Description"
CHECKS, NOTES = "Checks", "Notes"
HEAD_ROWS = {PURCHASES: 4, WORKING: 2, RATES: 2, DESCRIPTION: 2}
"""Rows above the first figure of a sheet; of the quote as many as have to be said."""

FIRST_COLUMN = {QUOTE: 1, PURCHASES: 2, WORKING: 3}
VALUE_COLUMN = 2
"""Of members, and of steps that are the same at any quantity."""

OF_RATES = ("/rates/", "/rate_overrides/")
KINDS = ("materials", "nozzles", "machines", "components", "channels", "services")
PARTS = ("quantity", "breaks", "aim", "discount_pct", "product", "measurement")
DIGITS = re.compile(r"\d+")


class Row(NamedTuple):
    """A row of the quote: a figure's dotted name and its rule."""

    figure: str
    rule: str


class Book(NamedTuple):
    """A quote in figures, every one of them in its place."""

    quote: InFigures
    rows: tuple[Row, ...]
    bought: tuple[Bought, ...]
    layout: Layout
    members: Mapping[str, Place]
    head_rows: int

    def address(self, figure: Figure, on: str) -> str:
        """Refer to a figure's cell from a sheet."""
        if figure.sign == CELL:
            place = self.members[figure.text]
            return f"[${place.sheet}.$C${self._line(place)}]"
        place = self.layout.places[id(figure)]
        column = VALUE_COLUMN
        if place.column is not None:
            column = FIRST_COLUMN[place.sheet] + place.column
        sheet = "" if place.sheet == on else f"${place.sheet}"
        return f"[{sheet}.{letters(column)}{self._line(place)}]"

    def _line(self, place: Place) -> int:
        above = self.head_rows if place.sheet == QUOTE else HEAD_ROWS[place.sheet]
        return place.row + above + 1


def book_of(quote: InFigures, head_rows: int) -> Book:
    """Give every figure of a quote a place, on the quote below ``head_rows``."""
    rows = tuple(
        dict.fromkeys(Row(name, rule) for each in quote.columns for name, rule, _ in each.figures)
    )
    bought = tuple(dict.fromkeys(row for each in quote.columns for row, _ in each.bought))
    shown = _shown(quote.columns, rows) | _shown_bought(quote.columns, bought)
    layout = Layout({each.quantity.text for each in quote.columns}, shown)
    for column in quote.columns:
        layout.members[column.quantity.text] = column.quantity
    layout.lay_out(
        [
            [value for *_, value in (*each.figures, *each.bought) if isinstance(value, Figure)]
            for each in quote.columns
        ]
    )
    layout.lay_out([list(_operands(quote.conditions))])
    return Book(quote, rows, bought, layout, _places_of(layout.members), head_rows)


def letters(column: int) -> str:
    """Name a column, counted from 0, as spreadsheets do."""
    name = ""
    column += 1
    while column:
        column, digit = divmod(column - 1, 26)
        name = chr(65 + digit) + name
    return name


def _shown(columns: Sequence[Column], rows: Sequence[Row]) -> dict[int, Place]:
    """Let figures that are told stand on the quote itself, where they are told first."""
    row_of = {row.figure: n for n, row in enumerate(rows)}
    shown: dict[int, Place] = {}
    for n, column in enumerate(columns):
        for name, _, value in column.figures:
            if isinstance(value, Figure) and value.sign != CELL and id(value) not in shown:
                if not has_cell(value):
                    named(value, name)
                shown[id(value)] = Place(QUOTE, row_of[name], n)
    return shown


def _shown_bought(columns: Sequence[Column], rows: Sequence[Bought]) -> dict[int, Place]:
    """Let what is bought stand on its own sheet, unless it has a cell already."""
    row_of = {row: n for n, row in enumerate(rows)}
    shown: dict[int, Place] = {}
    for n, column in enumerate(columns):
        for row, value in column.bought:
            if isinstance(value, Figure) and value.sign != CELL and id(value) not in shown:
                named(value, f"{row.thing}: {row.says}")
                shown[id(value)] = Place(PURCHASES, row_of[row], n)
    return shown


def _operands(conditions: Sequence[Condition]) -> Iterator[Figure]:
    for condition in conditions:
        for operand in (condition.left, condition.right):
            if isinstance(operand, Figure):
                yield operand


def _places_of(members: Mapping[str, Figure]) -> dict[str, Place]:
    """Put rates on one sheet and the description on another, each in its order."""
    places: dict[str, Place] = {}
    for sheet in (RATES, DESCRIPTION):
        here = [each for each in members if each.startswith(OF_RATES) == (sheet == RATES)]
        for row, pointer in enumerate(sorted(here, key=_order)):
            places[pointer] = Place(sheet, row, None)
    return places


def _order(pointer: str) -> tuple[object, ...]:
    parts = pointer.split("/")[1:]
    first = parts[1] if pointer.startswith(OF_RATES) else parts[0]
    known = KINDS if pointer.startswith(OF_RATES) else PARTS
    rank = known.index(first) if first in known else -1
    return rank, [DIGITS.sub(lambda digits: digits[0].zfill(6), part) for part in parts]

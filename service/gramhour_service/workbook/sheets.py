"""The sheets of a workbook: the quote, its working, the rates, the description, checks, notes."""

from collections.abc import Iterator
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from gramhour.contract.answer import Quote
from gramhour_service.answer.words import FIGURES, figure_name
from gramhour_service.calculation.rules import RULES, VERSION
from gramhour_service.workbook import document as ods
from gramhour_service.workbook.book import (
    CHECKS,
    DESCRIPTION,
    NOTES,
    PURCHASES,
    QUOTE,
    RATES,
    Book,
    Row,
)
from gramhour_service.workbook.checks import ALL_HOLD, check_rows, checks_of, state
from gramhour_service.workbook.document import HEAD, NOTE, STATE, TITLE
from gramhour_service.workbook.figures import Figure, plain
from gramhour_service.workbook.head import Line, head_rows
from gramhour_service.workbook.layout import WORKING, Place, Step, in_words, member_name, owner
from gramhour_service.workbook.writing import written

RATIO, LINE = "n2", "n4"
FLAG = "flags."
WIDE, NARROW = 11.0, 2.6

SAYS = (
    "This workbook computes the quote by itself, with no service near. Its formulas were written "
    "by the rules that computed the quote; beside each line stands its rule.",
    "To try something: change a yellow cell on Rates or Description. All other cells are formulas.",
    "What is held fixed: which pieces, materials, parts, offers, tiers and postage rows there are, "
    "and all that is said in words (which printer, nozzle and channel, stock or bought for the "
    "order, whole packs, prices with tax or without, the kind of aim, margin or markup or price). "
    "For another one ask for a fresh quote.",
    "Bought-in parts with several offers: which set of packs is the cheapest is a search, and no "
    "formula. So the sets that can be the cheapest stand on Working, each with its cost, and the "
    "cheapest counts: right for any price and any need, as long as the packs' sizes and from_packs "
    "stay. Where there are too many, those stand there that are the cheapest nearby; then Checks "
    "points out a change of price or need, after which another one may be cheaper.",
    "The price is the smallest allowed one at which the aim is met. The allowed prices that can be "
    "needed stand on Working, each computed back; if none of them meets the aim, #N/A is shown.",
    "What was estimated from a shape (grams, minutes, pieces on a plate) stands on Description as "
    "it was estimated; another shape needs a fresh quote.",
    "Purchases: what is bought just for this order, in whole packs; what comes from stock is not "
    "there. Of equally cheap sets of packs the one with least left over counts, then the one with "
    "the fewest packs.",
    "The ready date is the day of the quote's answer and no formula: it comes from the calendar of "
    "staffed hours, what the machines are promised for, and what is underway then. After an edit "
    "that moves it, the quote says so beside it.",
    "Rounding: spreadsheets compute in binary, where 0.00005 is not exactly half of 0.0001. Cost "
    "lines are rounded half even to 4 decimals: what 12 decimals cannot tell from a tie is one. "
    "Prices, fees and tax are rounded half up: (1+2E-15) lifts a tie that came out a last binary "
    "place too low.",
    "Tax: the arithmetic is shown; whether a rate applies is for you or a tax adviser to decide.",
)


BOUGHT = "Bought just for this order, in whole packs. What comes from stock is not listed."
NOTHING_BOUGHT = "Nothing has to be bought just for this order: all of it comes from stock."


LONGEST_READ = 600
"""Characters of a formula in words: nobody reads on."""


class Heading(NamedTuple):
    """What stands above a quote, and the decimals of its currency."""

    title: str
    currency: str
    digits: int
    told: Quote
    lines: list[Line]


def sheets_of(book: Book, heading: Heading) -> list[tuple[str, str]]:
    """Write all sheets of a workbook."""
    checks = checks_of(book)
    columns = len(book.quote.columns)
    narrow = [NARROW] * columns
    return [
        ods.sheet(QUOTE, [6.5, *narrow, WIDE], _quote(book, heading, state(checks))),
        ods.sheet(PURCHASES, [9.5, 4.5, *narrow, WIDE], _purchases(book, heading)),
        ods.sheet(RATES, [4.5, 5.5, 3.2, 1.8, 9, 9], _members(book, RATES)),
        ods.sheet(DESCRIPTION, [4.5, 5.5, 3.2, 1.8, 9, 9], _members(book, DESCRIPTION)),
        ods.sheet(WORKING, [6.5, 5, NARROW, *narrow, WIDE, WIDE], _working(book)),
        ods.sheet(CHECKS, [2, 16], check_rows(checks)),
        ods.sheet(NOTES, [18], _notes()),
    ]


def _quote(book: Book, heading: Heading, holds: str) -> Iterator[str]:
    columns, digits = book.quote.columns, heading.digits
    yield ods.row(ods.text(heading.title, TITLE))
    yield ods.row(ods.formula(holds, ALL_HOLD, STATE))
    yield ods.row(
        ods.text(f"Amounts in {heading.currency}, for the whole order unless a unit is said.")
    )
    yield from head_rows(book, heading.lines, heading.told)
    yield ods.row(ods.text("", HEAD), *_column_heads(book), ods.text("by the rule", HEAD))
    quantities = _quantities(book, QUOTE)
    yield ods.row(ods.text("Quantity", HEAD), *quantities, ods.text("", HEAD))
    told = [{name: value for name, _, value in each.figures} for each in columns]
    for n, row in enumerate(book.rows):
        cells = [
            _told(book, row, n, place, each.get(row.figure), digits)
            for place, each in enumerate(told)
        ]
        yield ods.row(ods.text(_name(row)), *cells, ods.text(RULES[row.rule].sentence, NOTE))


def _column_heads(book: Book) -> list[str]:
    heads = ["as asked", *["break"] * (len(book.quote.columns) - 1)]
    return [ods.text(head, HEAD) for head in heads]


def _quantities(book: Book, sheet: str) -> list[str]:
    return [
        ods.formula(book.address(each.quantity, sheet), plain(each.quantity), HEAD)
        for each in book.quote.columns
    ]


def _purchases(book: Book, heading: Heading) -> Iterator[str]:
    """Write the sheet of what is to be bought."""
    yield ods.row(ods.text(f"To buy for the order, prices in {heading.currency}", TITLE))
    yield ods.row(ods.text(BOUGHT if book.bought else NOTHING_BOUGHT))
    blank = [ods.text("", HEAD)] * 2
    yield ods.row(*blank, *_column_heads(book), ods.text("by the rule", HEAD))
    names = [ods.text(name, HEAD) for name in ("part or feedstock", "what")]
    yield ods.row(*names, *_quantities(book, PURCHASES), ods.text("", HEAD))
    told = [dict(each.bought) for each in book.quote.columns]
    for n, row in enumerate(book.bought):
        cells = [
            _amount(book, Place(PURCHASES, n, place), each[row], f"n{min(row.decimals, 4)}")
            for place, each in enumerate(told)
        ]
        yield ods.row(ods.text(row.thing), ods.text(row.says), *cells, ods.text(row.sentence, NOTE))


def _name(row: Row) -> str:
    if row.figure.startswith(FLAG):
        return f"Flag: {row.figure.removeprefix(FLAG).replace('_', ' ')}"
    return FIGURES.get(row.figure) or figure_name(row.figure)


def _told(book: Book, row: Row, n: int, column: int, value: Decimal | None, digits: int) -> str:
    """Write a figure that is told; a flag in words."""
    if value is None:
        return ods.empty()
    place = Place(QUOTE, n, column)
    if row.figure.startswith(FLAG):
        text = _text(book, place, value)
        return ods.formula(f'IF(({text})=1;"yes";"")', "yes" if plain(value) else "", ods.PLAIN)
    return _amount(book, place, value, _style_of(row.figure, digits))


def _amount(book: Book, place: Place, value: Decimal, style: str) -> str:
    return ods.formula(_text(book, place, value), plain(value), style)


def _text(book: Book, place: Place, value: Decimal) -> str:
    """Write how a figure is made where it stands, or where it stands already."""
    if not isinstance(value, Figure):
        return str(value)
    refer = partial(book.address, on=place.sheet)
    stands_here = book.layout.places.get(id(value)) == place
    return written(value, refer) if stands_here else refer(value)


def _style_of(figure: str, digits: int) -> str:
    if figure.endswith("_pct"):
        return RATIO
    if figure.startswith(("cost.", "use.", "contribution")) or figure in FOUR_DECIMALS:
        return LINE
    return f"n{digits}" if digits <= ods.MOST_DECIMALS else LINE


FOUR_DECIMALS = ("unit_cost", "unit_price_net", "profit", "raw_unit_price")


def _working(book: Book) -> Iterator[str]:
    heads = ["step", "of", "at any quantity"]
    columns = book.quote.columns
    yield ods.row(
        *[ods.text(each, HEAD) for each in heads],
        *[ods.formula(book.address(c.quantity, WORKING), plain(c.quantity), HEAD) for c in columns],
        ods.text("reads", HEAD),
        ods.text("by the rule", HEAD),
    )
    yield ods.row()
    refer = partial(book.address, on=WORKING)
    for step in book.layout.steps:
        if step.everywhere is not None:
            cells = [_cell(step.everywhere, refer), ods.empty(len(columns))]
        else:
            found = [step.by_column.get(n) for n in range(len(columns))]
            cells = [ods.empty(), *[ods.empty() if f is None else _cell(f, refer) for f in found]]
        sentence = RULES[step.rule].sentence if step.rule else ""
        yield ods.row(
            ods.text(step.label),
            ods.text(step.about),
            *cells,
            ods.text(_reads(step)),
            ods.text(sentence),
        )


def _cell(figure: Figure, refer: partial[str]) -> str:
    return ods.formula(written(figure, refer), plain(figure), ods.PLAIN)


def _reads(step: Step) -> str:
    figure = step.everywhere
    if figure is None:
        figure = next(iter(step.by_column.values()))
    says = written(figure, in_words)
    return says if len(says) <= LONGEST_READ else f"{says[:LONGEST_READ]} … and so on"


def _members(book: Book, sheet: str) -> Iterator[str]:
    yield ods.row(ods.text(f"{sheet}: what can be changed", TITLE))
    heads = ("of", "member", "value", "was", "means", "stands in the request at")
    yield ods.row(*[ods.text(each, HEAD) for each in heads])
    here = sorted(
        (place.row, pointer) for pointer, place in book.members.items() if place.sheet == sheet
    )
    for _, pointer in here:
        figure = book.layout.members[pointer]
        yield ods.row(
            ods.text(owner(pointer)),
            ods.text(member_name(pointer)),
            ods.number(plain(figure)),
            ods.text(figure.name),
            ods.text(figure.rule),
            ods.text(pointer),
        )


def _notes() -> Iterator[str]:
    yield ods.row(ods.text(f"How this workbook computes (rules version {VERSION})", TITLE))
    for each in SAYS:
        yield ods.row(ods.text(each, NOTE))

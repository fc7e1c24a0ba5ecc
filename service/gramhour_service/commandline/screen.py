"""The screen that results are shown on: its width, paragraphs, and tables that keep their numbers.

Styles (bold, dim) reach a terminal only. Tables have no drawn lines: they copy as plain text.
"""

import io
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Collection, Iterable, Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from rich.console import Console
from rich.table import Table
from rich.text import Text

from gramhour_service.commandline.characters import printable

WIDTH_OF_A_FILE = 100
WIDEST_TEXT = 100
NARROWEST = 40
LEAST_TEXT = 20
WIDER_THAN_ANY = 10_000
GAP = 2
WHOLE_NUMBER = re.compile(r"-?[0-9]+")


def screen() -> Console:
    """Make the console for standard output: as wide as the terminal, 100 columns in a file."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A sign that the terminal cannot show must not cost the answer.
        sys.stdout.reconfigure(errors="replace")
    wide = sys.stdout.isatty() or "COLUMNS" in os.environ
    width = max(NARROWEST, shutil.get_terminal_size().columns) if wide else WIDTH_OF_A_FILE
    return Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)


def paragraph(
    console: Console, text: str, *, first: str = "", others: str = "", style: str = ""
) -> None:
    """Show a text, wrapped at words, its first line and the others indented as told."""
    width = min(console.width, WIDEST_TEXT)
    lines = textwrap.wrap(
        printable(text),
        width,
        initial_indent=first,
        subsequent_indent=others,
        break_long_words=False,
        break_on_hyphens=False,
    )
    for line in lines or [""]:
        console.print(Text(line, style), soft_wrap=True)


def heading(console: Console, text: str) -> None:
    """Show a heading, with an empty line before it."""
    console.print()
    paragraph(console, text, style="bold")


class Row(NamedTuple):
    """A row of a table: a text and its numbers, and how they look on a terminal."""

    cells: tuple[str, ...]
    style: str = ""


def show_table(
    console: Console,
    header: Sequence[str],
    rows: Sequence[Row],
    *,
    point_under_header: bool = False,
) -> None:
    """Show a table: a text, then numbers with their decimal points below each other.

    Where the screen is narrow the text is wrapped, or stands above its numbers if they all fit
    then; what is still too wide goes on in tables below. Numbers are never cut. Where the header
    holds numbers too, their points stand in the same line.
    """
    texts, *numbers = zip(*(row.cells for row in rows), strict=True)
    padded = [
        aligned([title, *cells]) if point_under_header else _below(title, aligned(cells))
        for title, cells in zip(header[1:], numbers, strict=True)
    ]
    first = min(LEAST_TEXT, max(map(len, texts)))
    widths = [len(cells[-1]) for cells in padded]
    if first + sum(widths) + GAP * len(widths) > console.width >= sum(widths) + GAP * len(widths):
        _show_below_texts(console, header[0], rows, padded)
        return
    for group in _beside(console, first, widths):
        table = _empty_table()
        table.add_column(header[0])
        for n in group:
            table.add_column(padded[n][0], no_wrap=True)
        for at, row in enumerate(rows):
            cells = (texts[at], *(padded[n][at + 1] for n in group))
            table.add_row(*(Text(printable(cell)) for cell in cells), style=row.style)
        _print_table(console, table, LEAST_TEXT + sum(GAP + widths[n] for n in group))


def _show_below_texts(
    console: Console, header: str, rows: Sequence[Row], padded: Sequence[Sequence[str]]
) -> None:
    """Show each row in two lines: its text, and its numbers under it."""
    if header:
        console.print(Text(header, "bold"), soft_wrap=True)
    titles = zip(*(cells[0].split("\n") for cells in padded), strict=True)
    for title in titles:
        _show_line(console, title, "bold")
    for at, row in enumerate(rows, start=1):
        console.print(Text(printable(row.cells[0]), row.style), soft_wrap=True)
        _show_line(console, [cells[at] for cells in padded], row.style)


def _show_line(console: Console, cells: Iterable[str], style: str) -> None:
    line = "".join(" " * GAP + cell for cell in cells)
    console.print(Text(line.rstrip(), style), soft_wrap=True)


def show_texts(
    console: Console,
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Collection[int] = (),
    stay: int = 1,
) -> None:
    """Show a table of texts, wrapped where the screen is narrow.

    The columns with those ``numbers`` (from 0) have their decimal points below each other, and
    are never cut: what is too wide with them goes on in tables below, which begin with the same
    columns, those that ``stay``.
    """
    columns = list(zip(*rows, strict=True)) or [()] * len(header)
    shown = [
        _below(title, aligned(cells)) if n in numbers and cells else [title, *cells]
        for n, (title, cells) in enumerate(zip(header, columns, strict=True))
    ]
    widths = [len(told[0]) if n in numbers else 0 for n, told in enumerate(shown)]
    first = LEAST_TEXT + sum(GAP + width for width in widths[:stay] if width)
    for group in _beside(console, first, widths[stay:], lasts=bool(numbers)):
        table, picked = _empty_table(), [*range(stay), *(stay + n for n in group)]
        for n in picked:
            table.add_column(shown[n][0], overflow="fold", no_wrap=n in numbers)
        for row in zip(*(shown[n][1:] for n in picked), strict=True):
            table.add_row(*(Text("\n".join(map(printable, cell.split("\n")))) for cell in row))
        _print_table(console, table, first + sum(GAP + widths[stay + n] for n in group))


def _empty_table() -> Table:
    return Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), header_style="bold")


def _beside(
    console: Console, first: int, widths: Sequence[int], *, lasts: bool = True
) -> Iterator[list[int]]:
    """Split columns into as many tables as the screen needs, with an empty line between them.

    Columns that may be wrapped have a width of 0; where all may, nothing is split.
    """
    group: list[int] = []
    used = first
    for n, width in enumerate(widths):
        if lasts and group and used + GAP + width > console.width:
            yield group
            console.print()
            group, used = [], first
        group.append(n)
        used += GAP + width
    yield group


def _below(title: str, cells: Sequence[str]) -> list[str]:
    """Put a title, which may have two lines, above cells of one width."""
    lines = title.split("\n")
    width = max(*map(len, lines), len(cells[0]))
    return ["\n".join(line.rjust(width) for line in lines), *(cell.rjust(width) for cell in cells)]


def _print_table(console: Console, table: Table, least: int) -> None:
    """Print a table no wider than the screen, if it can be; no blanks at the ends of lines."""
    unbounded = console.options.update(width=WIDER_THAN_ANY)
    natural = console.measure(table, options=unbounded).maximum
    width = min(natural, max(least, console.width))
    for line in console.render_lines(table, unbounded.update(width=width), pad=False):
        told = Text.assemble(*((segment.text, segment.style or "") for segment in line))
        told.rstrip()
        console.print(told, soft_wrap=True)


def show_places(console: Console, values: Sequence[str], pointers: Sequence[str]) -> None:
    """Show values, each with the member that it stands in, which is never broken."""
    for value, pointer in zip(values, pointers, strict=True):
        console.print(Text(printable(f"    {value}  {pointer}")), soft_wrap=True)


def aligned(cells: Sequence[str]) -> list[str]:
    """Pad the cells of a column so that their decimal points stand below each other."""
    behind = [len(cell) - _before_point(cell) for cell in cells]
    padded = [cell + " " * (max(behind) - own) for cell, own in zip(cells, behind, strict=True)]
    width = max(map(len, padded))
    return [cell.rjust(width) for cell in padded]


def _before_point(cell: str) -> int:
    number = WHOLE_NUMBER.match(cell)
    return number.end() if number else len(cell)


def money(amount: Decimal | None) -> str:
    """Write an amount as the answer has it."""
    return "none" if amount is None else f"{amount:f}"


def physical(amount: float, decimals: int = 2) -> str:
    """Write a physical amount, rounded for reading."""
    return f"{amount:.{decimals}f}"


def bare(amount: float) -> str:
    """Write a number of things without decimals that say nothing."""
    return f"{amount:.4f}".rstrip("0").rstrip(".")


def show_measured(console: Console, file: str, rows: Iterable[tuple[str, str]]) -> None:
    """Show what a file holds, a row a figure."""
    table = Table(box=None, show_header=False)
    for name, amount in rows:
        table.add_row(name, amount)
    console.print(Text(printable(file)), soft_wrap=True)
    console.print(table)

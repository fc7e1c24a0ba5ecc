"""The rates of one kind, or listings, as CSV (RFC 4180): a row each, a column a member.

A column is named by the way to its member (``offer.pack_g``); lists are JSON in their cell. An
empty cell says that the rate has no such member. Of ``shop`` each member is a row with a value.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, NamedTuple

import msgspec
from msgspec import UNSET

from gramhour.contract.noting import nearest, shown
from gramhour.contract.problem import Fault, Refused
from gramhour_service.sheets.cells import (
    LISTINGS,
    Column,
    cell_of,
    columns_of,
    read_cell,
    restored,
)

SEPARATORS = ",;\t"
MOST_COLUMNS = 500
MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"


class Row(NamedTuple):
    """A row that was read: where it stands, what each column of the file says, what is wrong."""

    line: int
    code: str
    given: Mapping[Column, Any]
    faults: tuple[Fault, ...] = ()


class Rows(NamedTuple):
    """What a file says of a kind."""

    kind: str
    rows: Sequence[Row]


def written_rows(kind: str, rates: Mapping[str, Any], *, header: bool = True) -> str:
    """Write the rates of a kind, or listings, in the order of their codes.

    All columns are always there, in the contract's order.
    """
    columns = columns_of(kind)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    if header:
        writer.writerow([code_column(kind), *(column.name for column in columns)])
    for code, rate in sorted(rates.items()):
        plain = msgspec.to_builtins(rate)
        writer.writerow([cell_of(code), *(column.written(code, plain) for column in columns)])
    return text.getvalue()


def code_column(kind: str) -> str:
    """Name the column that says which one a row is."""
    return "sku" if kind == LISTINGS else "code"


def read_rows(kind: str, body: bytes) -> Rows:
    """Read rows of a kind; the separator is the header's.

    Raises ``Refused`` with the line and the column of every fault found.
    """
    rows = read_each(kind, body, "invalid-rates")
    faults = [fault for row in rows.rows for fault in row.faults]
    if faults:
        raise Refused("invalid-rates", tuple(faults))
    return rows


def read_each(kind: str, body: bytes, refusal: str, most: int | None = None) -> Rows:
    """Read rows, those with faults too; of more than ``most`` one more, so that it can be told.

    Raises ``Refused`` for what is no table of that kind.
    """
    records = _records(_text(body))
    line, header = next(records, (1, []))
    faults: list[Fault] = []
    columns = list(_columns(kind, header, line, faults))
    if faults:
        raise Refused(refusal, tuple(faults))
    filled = (record for record in records if any(record[1]))
    wanted = islice(filled, None if most is None else most + 1)
    return Rows(kind, [_row(kind, columns, *record) for record in wanted])


def merged(row: Row, current: Any) -> Any:
    """Say what a rate is with a row's members in it; those without a column stay as they are."""
    rate = current
    for column, value in row.given.items():
        rate = column.put(rate, value)
    return rate


def _text(body: bytes) -> str:
    try:
        return body.decode().removeprefix(MARK)
    except UnicodeDecodeError as error:
        detail = f"not UTF-8 at byte {error.start}; save it as CSV in UTF-8"
        raise Refused("malformed-document", (Fault("", detail),)) from None


def _records(text: str) -> Iterator[tuple[int, list[str]]]:
    """Split a text into records, each with the line that it begins on; empty ones are left out."""
    first_line = text.partition("\n")[0]
    separator = next((char for char in first_line if char in SEPARATORS), SEPARATORS[0])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begins = 1
    try:
        for cells in reader:
            if cells:
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        detail = f"not CSV: {error}; was a quote left open, or doubled too little?"
        raise Refused("malformed-document", (Fault(line=begins, detail=detail),)) from None


def _columns(
    kind: str, header: Sequence[str], line: int, faults: list[Fault]
) -> Iterator[Column | None]:
    """Find the columns that a header names, none for the code's."""
    code = code_column(kind)
    known = {code: None} | {column.name: column for column in columns_of(kind)}
    names = [restored(cell.strip()) for cell in header]
    while names and not names[-1]:
        names.pop()
    if len(names) > MOST_COLUMNS:  # to tell of each would take long
        detail = f"has {len(names)} columns; there are {len(known)}: {', '.join(known)}"
        faults.append(Fault(line=line, detail=detail))
        return
    for n, name in enumerate(names):
        if name not in known:
            near = nearest(name, known) or f"; there are {', '.join(known)}"
            faults.append(Fault(line=line, detail=f"unknown column {shown(name)}{near}"))
        elif name in names[:n]:
            faults.append(Fault(line=line, detail=f"column {name} stands twice; keep one"))
        else:
            yield known[name]
    if code not in names:
        detail = f"there is no column '{code}', which says which one a row is"
        faults.append(Fault(line=line, detail=detail))


def _row(kind: str, columns: Sequence[Column | None], line: int, cells: Sequence[str]) -> Row:
    if len(cells) < len(columns) or any(cells[len(columns) :]):
        return Row(line, "", {}, (Fault(line=line, detail=_wrong_count(cells, columns)),))
    code = restored(cells[columns.index(None)].strip())
    given, faults = {}, []
    if not code:
        faults.append(Fault(line=line, detail=f"column {code_column(kind)}: it is empty; name it"))
    for column, cell in zip(columns, cells, strict=False):
        if column is not None:
            value = read_cell(kind, code, column, cell)
            if isinstance(value, Fault):
                faults.append(Fault(line=line, detail=f"column {column.name}: {value.detail}"))
            else:
                given[column] = value
    return Row(line, code, given, tuple(faults))


def _wrong_count(cells: Sequence[str], columns: Sequence[object]) -> str:
    return (
        f"has {len(cells)} cells, the header {len(columns)}; numbers have a decimal point, and a "
        "text with the separator in it stands in quotes"
    )


def placed_in_lines(faults: Sequence[Fault], rows: Rows) -> tuple[Fault, ...]:
    """Say the line and the column of faults whose pointers begin with the number of a row.

    Those that belong to no row come last.
    """
    told = [_in_line(fault, rows) for fault in faults]
    return tuple(sorted(told, key=lambda fault: (fault.line is UNSET, fault.line or 0)))


def _in_line(fault: Fault, rows: Rows) -> Fault:
    steps = (fault.pointer or "").split("/")[1:]
    if not steps:
        return fault
    row, within = rows.rows[int(steps[0])], tuple(steps[1:])
    column = next((each for each in columns_of(rows.kind) if each.holds_place(within)), None)
    if column is None:
        return Fault(line=row.line, detail=f"{row.code}: {fault.detail}")
    rest = "".join(f"/{step}" for step in within[len(column.path) :])
    inside = f"{rest} in it: " if rest else ""
    return Fault(line=row.line, detail=f"column {column.name}: {inside}{fault.detail}")

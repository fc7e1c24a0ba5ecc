"""Rows of products or listings in a file: CSV, lines of JSON, or one document.

For the store they are rows as they stand; for a service the file is cut into parts that it takes.
"""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal, NamedTuple

import msgspec
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour_service.commandline.files import read_body
from gramhour_service.commandline.meant import (
    LISTINGS,
    PRODUCTS,
    ROWS,
    Kind,
    check_foreign,
    check_kind,
    check_list,
    check_rows,
    check_table,
)
from gramhour_service.http.forms_sent import DONE_LINE, MOST_ROWS
from gramhour_service.http.settings import MOST_BODY_BYTES
from gramhour_service.listings.csv_rows import laid_over, read_listing_rows
from gramhour_service.listings.rows import SentRow
from gramhour_service.store.entries import EntryKind

Form = Literal["csv", "lines", "document"]
OF_ENDING: dict[str, Form] = {
    ".csv": "csv",
    ".ndjson": "lines",
    ".jsonl": "lines",
    ".json": "document",
    ".toml": "document",
}
A_DOCUMENT = re.compile(rb'\s*(\[|\{\s*"items"\s*:)')
OF_KIND: dict[EntryKind, Kind] = {"product": PRODUCTS, "listing": LISTINGS}
FORMS: dict[EntryKind, str] = {
    "product": "NDJSON, JSON or TOML",
    "listing": "CSV, NDJSON, JSON or TOML",
}
WRITE_ROWS = (
    'there is no list of rows in it: write [[items]] in TOML, {"items": [...]} in JSON, or an '
    "object a line (NDJSON)"
)
OR_CSV: dict[EntryKind, str] = {"product": "", "listing": ", or CSV with the columns' names first"}
MOST_BYTES = MOST_BODY_BYTES * 9 // 10


class RowsFile(NamedTuple):
    """A file of rows: what they are to be, its name, what form it has, what stands in it."""

    kind: EntryKind
    file: str
    form: Form
    body: bytes


class Part(NamedTuple):
    """A part of a file that a service takes at once.

    Its first ``header`` lines are the file's; the next is the file's line ``starts``. ``before``
    counts the rows of earlier parts.
    """

    body: bytes
    rows: int
    before: int
    header: int
    starts: int


def read_file(kind: EntryKind, file: str) -> RowsFile:
    """Read a file; its ending says its form, or else its beginning. Raises ``Refused``."""
    body = read_body(file)
    form = OF_ENDING.get(Path(file).suffix.lower())
    if form is None:
        check_foreign(file, body, f"a list of {kind}s ({FORMS[kind]})")
        if A_DOCUMENT.match(body):
            form = "document"
        else:
            form = "lines" if body.lstrip().startswith(b"{") else "csv"
    if kind == "product" and form == "csv":
        check_table(file, body, PRODUCTS.what)
        detail = "products do not fit into CSV; write them as NDJSON, JSON or TOML"
        raise Refused("invalid-request", (Fault("", detail),))
    return RowsFile(kind, file, form, body)


def rows_for_store(store: Database, read: RowsFile) -> Sequence[SentRow]:
    """Make the rows as they are to be. Raises ``Refused`` for a file that has none."""
    match read.form:
        case "csv":
            rows = laid_over(store, read_listing_rows(read.body))
        case "lines":
            rows = [_sent(n, line) for n, line in _lines(read.body)]
            _check_meant(read, rows)
        case _:
            rows = [SentRow(row) for row in _items(read)]
    _refuse_none(rows)
    return rows


def parts_for_service(read: RowsFile) -> list[Part]:
    """Cut a file into parts that a service takes. Raises ``Refused``."""
    match read.form:
        case "csv":
            header, records = _records(read.body)
            pieces = records
        case "lines":
            header, pieces = b"", [(n, line + b"\n") for n, line in _lines(read.body)]
            sent = [_sent(n, line) for n, line in pieces]
            _check_objects(sent)
            _check_meant(read, sent)
        case _:
            rows = _items(read)
            _check_objects([SentRow(row) for row in rows])
            lines = [msgspec.json.encode(row) + b"\n" for row in rows]
            header, pieces = b"", list(enumerate(lines, start=1))
    _refuse_none(pieces)
    return list(_cut(header, pieces))


def placed_in_file(fault: Fault, part: Part, read: RowsFile) -> Fault:
    """Say where in the file a fault of a part is."""
    if fault.line is msgspec.UNSET or fault.line <= part.header:
        return fault
    line = fault.line - part.header + part.starts - 1
    if read.form != "document":
        return Fault(line=line, detail=fault.detail)
    within, colon, detail = fault.detail.partition(": ")
    if not (colon and within.startswith("/")):
        within, detail = "", fault.detail
    return Fault(pointer("items", line - 1) + within, detail)


def _check_objects(rows: Sequence[SentRow]) -> None:
    """Refuse a file with lines that cannot be read or are no objects, before any of it is sent."""
    faults = [_fault_of(n, row) for n, row in enumerate(rows)]
    if any(faults):
        raise Refused("invalid-request", tuple(fault for fault in faults if fault))


def _fault_of(n: int, row: SentRow) -> Fault | None:
    if row.refused is None and isinstance(row.sent, dict):
        return None
    detail = "must be an object" if row.refused is None else row.refused.faults[0].detail
    if row.line is msgspec.UNSET:
        return Fault(pointer("items", n), detail)
    return Fault(line=row.line, detail=detail)


def _refuse_none(rows: Sequence[object]) -> None:
    if not rows:
        raise Refused("invalid-request", (Fault("", "there are no rows in it"),))


def _lines(body: bytes) -> list[tuple[int, bytes]]:
    """Number the lines that are not empty; a last one that counts them is checked and left out."""
    lines = [(n, line) for n, line in enumerate(body.split(b"\n"), start=1) if line.strip()]
    if lines and (done := DONE_LINE.fullmatch(lines[-1][1].strip())):
        number, _ = lines.pop()
        if int(done[1]) != len(lines):
            detail = f"it says that {int(done[1])} lines come before it, and there are {len(lines)}"
            raise Refused("invalid-request", (Fault(line=number, detail=detail),))
    return lines


def _sent(number: int, line: bytes) -> SentRow:
    try:
        return SentRow(parse_json(line), number)
    except Refused as refused:
        faults = [replace(f, detail=f.detail.replace("at line 1, ", "at ")) for f in refused.faults]
        return SentRow(None, number, Refused(refused.type, tuple(faults)))


def _items(read: RowsFile) -> list[Any]:
    parse = parse_toml if Path(read.file).suffix.lower() == ".toml" else parse_json
    says = parse(read.body)
    check_list(read.file, says, OF_KIND[read.kind])
    check_kind(read.file, says, ROWS)
    if isinstance(says, dict) and set(says) == {"items"}:
        says = says["items"]
    if not isinstance(says, list):
        raise Refused("invalid-request", (Fault("", WRITE_ROWS + OR_CSV[read.kind]),))
    check_rows(read.file, says, OF_KIND[read.kind])
    return says


def _check_meant(read: RowsFile, rows: Sequence[SentRow]) -> None:
    check_rows(read.file, (row.sent for row in rows), OF_KIND[read.kind])


def _records(body: bytes) -> tuple[bytes, list[tuple[int, bytes]]]:
    """Split CSV (RFC 4180) at the ends of records: a line's end within quotes is none."""
    records: list[tuple[int, bytes]] = []
    open_lines: list[bytes] = []
    is_quoted = False
    for n, line in enumerate(body.splitlines(keepends=True), start=1):
        open_lines.append(line)
        is_quoted ^= line.count(b'"') % 2 == 1
        if not is_quoted:
            records.append((n - len(open_lines) + 1, b"".join(open_lines)))
            open_lines = []
    if open_lines:
        records.append((len(body.splitlines()) - len(open_lines) + 1, b"".join(open_lines)))
    header = records[0][1] if records else b""
    return header, [record for record in records[1:] if record[1].strip()]


def _cut(header: bytes, pieces: Sequence[tuple[int, bytes]]) -> Iterator[Part]:
    """Put as many pieces into each part as a service takes.

    A part's lines are those of the file in a row: those that were left out are empty in it.
    """
    head = len(header.splitlines())
    taken, size, line = list[bytes](), len(header), 0
    first, before, rows = 0, 0, 0
    for number, piece in pieces:
        if rows and (rows == MOST_ROWS or size + len(piece) > MOST_BYTES):
            yield Part(b"".join([header, *taken]), rows, before, head, first)
            taken, size, before, rows = [], len(header), before + rows, 0
        if not rows:
            first = line = number
        gap = b"\n" * (number - line)
        taken += [gap, piece]
        size, rows, line = size + len(gap) + len(piece), rows + 1, number + len(piece.splitlines())
    yield Part(b"".join([header, *taken]), rows, before, head, first)

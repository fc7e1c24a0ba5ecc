"""Workbooks recalculated by a real office without a screen, in a profile of its own."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.office import running

Edit = tuple[str, str, float]
"""A sheet, a cell, and the number put there."""

Sheets = dict[str, list[list[Any]]]
"""By sheet what its cells show, row by row."""


class Office:
    """An office that recalculates one workbook after another."""

    def __init__(self, office: running.Office, folder: Path) -> None:
        self._office, self._folder, self._opened = office, folder, 0

    def shown(
        self,
        workbook: bytes,
        edits: Sequence[Edit] = (),
        sheets: Sequence[str] = ("Quote", "Purchases"),
    ) -> Sheets:
        with self._opened_file(workbook):
            return self._computed(edits, sheets)

    def tried(
        self, workbook: bytes, edits: Sequence[tuple[Edit, float]], sheets: Sequence[str]
    ) -> list[Sheets]:
        """Show a workbook after each of some edits, which is taken back; it is opened once."""
        told = []
        with self._opened_file(workbook):
            for (sheet, cell, value), was in edits:
                told.append(self._computed([(sheet, cell, value)], sheets))
                self._write((sheet, cell, was))
        return told

    def _computed(self, edits: Sequence[Edit], sheets: Sequence[str]) -> Sheets:
        for edit in edits:
            self._write(edit)
        self._office.do("recalculate")
        return {sheet: self._office.do("read_sheet", sheet=sheet) for sheet in sheets}

    def _write(self, edit: Edit) -> None:
        sheet, cell, value = edit
        self._office.do("write", where=f"{sheet}.{cell}", rows=[[value]])

    @contextmanager
    def _opened_file(self, workbook: bytes) -> Iterator[None]:
        self._opened += 1
        file = self._folder / f"{self._opened}.ods"
        file.write_bytes(workbook)
        self._office.do("open", url=file.as_uri(), hidden=True)
        try:
            yield
        finally:
            self._office.do("close")
            file.unlink()


@contextmanager
def office(folder: Path) -> Iterator[Office]:
    """Start an office; it is gone afterwards."""
    with running.office(folder) as started:
        yield Office(started, folder)

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
        self, workbook: bytes, edits: Sequence[Edit] = (), sheets: Sequence[str] = ("Quote",)
    ) -> Sheets:
        self._opened += 1
        file = self._folder / f"{self._opened}.ods"
        file.write_bytes(workbook)
        self._office.do("open", url=file.as_uri(), hidden=True)
        for sheet, cell, value in edits:
            self._office.do("write", where=f"{sheet}.{cell}", rows=[[value]])
        self._office.do("recalculate")
        told: Sheets = {sheet: self._office.do("read_sheet", sheet=sheet) for sheet in sheets}
        self._office.do("close")
        file.unlink()
        return told


@contextmanager
def office(folder: Path) -> Iterator[Office]:
    """Start an office; it is gone afterwards."""
    with running.office(folder) as started:
        yield Office(started, folder)

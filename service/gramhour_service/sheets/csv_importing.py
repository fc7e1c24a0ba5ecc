"""Rows of one kind taken into the store: what they say is changed or added, nothing removed."""

from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour.contract.rates import RateSheet
from gramhour_service.sheets.changing import Edit, edited
from gramhour_service.sheets.csv_kind import Row, Rows, merged, placed_in_lines
from gramhour_service.sheets.rows import plain_value
from gramhour_service.sheets.saving import Dated, Saved, State, save
from gramhour_service.store.rates import Change


def import_rows(store: Database, rows: Rows, dated: Dated) -> Saved:
    """Put rows in force from a day on, all of them or none.

    Raises ``Refused`` with the line and the column of every fault found.
    """

    def make_sheet(state: State) -> RateSheet:
        present = state.present
        edits = [
            _edit(n, rows.kind, row, present.get((rows.kind, row.code)))
            for n, row in enumerate(rows.rows)
        ]
        try:
            return edited(state, edits)
        except Refused as refused:
            raise Refused("invalid-rates", placed_in_lines(refused.faults, rows)) from None

    return save(store, make_sheet, dated)


def _edit(n: int, kind: str, row: Row, before: Change | None) -> Edit:
    value = merged(row, None if before is None else plain_value(before))
    return Edit((kind, row.code), {} if value is None else value, (n,), (n,))

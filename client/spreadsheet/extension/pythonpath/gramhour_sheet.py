"""Prices the selected rows of a sheet: reads them, asks for all, then writes the breaks beside.

Nothing is written before every answer is there, and it is one step to undo.
"""

from com.sun.star.table import CellAddress
from gramhour_asking import Refused, prices
from gramhour_rows import columns_of, told

WITH_ERRORS = 4  # com.sun.star.sheet.FormulaResult.ERROR
HEADING = "price at "
NOTE = "Gramhour: "


class Table:
    """A sheet's headings and where they stand."""

    def __init__(self, sheet):
        """Find the headings: the topmost row that has ``quantity`` in it. Raises ``Refused``."""
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.getRangeAddress()
        self.sheet, self.last_row = sheet, end.EndRow
        self.width = end.EndColumn + 1
        for number, row in enumerate(self.rows(0, end.EndRow)):
            if any(str(cell).strip().casefold() == "quantity" for cell in row):
                self.top, self.headings = number, list(row)
                break
        else:
            raise Refused("this sheet has no heading quantity")
        self.names = columns_of(self.headings)

    def rows(self, first, last):
        """Read rows as far as the sheet is used."""
        block = self.sheet.getCellRangeByPosition(0, first, self.width - 1, last)
        return block.getDataArray()

    def told(self, number):
        """Say a row in names and texts; nothing of it if it is empty. Raises ``Refused``."""
        cells = self.rows(number, number)[0]
        for column in range(self.width):
            if self.names[column] and self.sheet.getCellByPosition(column, number).getError():
                raise Refused("the cell has an error of its own", (self.names[column],))
        return told(self.names, cells)

    def column_of(self, quantity):
        """Find the column of a quantity's prices, behind all others if there is none yet."""
        heading = f"{HEADING}{quantity}"
        if heading not in self.headings:
            while self.headings and self.headings[-1] == "":
                self.headings.pop()
            self.headings.append(heading)
            self.sheet.getCellByPosition(len(self.headings) - 1, self.top).String = heading
        return self.headings.index(heading)

    def price_columns(self):
        """List the columns of prices that are there."""
        return [n for n, text in enumerate(self.headings) if str(text).startswith(HEADING)]


def price_selected(document, service):
    """Price the selected rows; say in words what was done. Raises ``Refused``, nothing changed."""
    sheet = document.getCurrentController().getActiveSheet()
    table = Table(sheet)
    asked, outcomes = {}, {}
    for number in _selected(document, table):
        try:
            said = table.told(number)
        except Refused as refused:
            outcomes[number] = refused
            continue
        if said:
            asked[number] = said
    outcomes.update(zip(asked, service.quotes(list(asked.values()))))  # noqa: B905
    if not outcomes:
        raise Refused("select rows below the headings")
    _written(document, table, outcomes)
    wrong = [number for number, outcome in outcomes.items() if isinstance(outcome, Refused)]
    said = f"{len(outcomes) - len(wrong)} of {len(outcomes)} rows priced."
    if wrong:
        rows = ", ".join(str(number + 1) for number in sorted(wrong)[:20])
        said += f" Rows left as they were, with a note why: {rows}{'…' if wrong[20:] else ''}."
    return said


def _selected(document, table):
    """List the selected rows below the headings, as far as the sheet is used."""
    selected = document.getCurrentSelection()
    if hasattr(selected, "getRangeAddresses"):
        addresses = selected.getRangeAddresses()
    elif hasattr(selected, "getRangeAddress"):
        addresses = (selected.getRangeAddress(),)
    else:
        raise Refused("select rows of the sheet")
    rows = set()
    for each in addresses:
        rows.update(range(max(each.StartRow, table.top + 1), min(each.EndRow, table.last_row) + 1))
    return sorted(rows)


def _written(document, table, outcomes):
    """Write all that came, as one step to undo."""
    undo = document.getUndoManager()
    undo.enterUndoContext("Gramhour prices")
    document.lockControllers()
    try:
        quotes = {n: each for n, each in outcomes.items() if not isinstance(each, Refused)}
        for quantity in sorted({q for each in quotes.values() for q in prices(each)}):
            table.column_of(quantity)
        for number, outcome in outcomes.items():
            _take_note_away(table, number)
            if isinstance(outcome, Refused):
                _note(table, number, outcome)
            else:
                _prices(table, number, prices(outcome))
    finally:
        document.unlockControllers()
        undo.leaveUndoContext()


def _prices(table, number, found):
    """Write a row's prices; of quantities that it no longer has, none stays."""
    for column in table.price_columns():
        quantity = table.headings[column][len(HEADING) :]
        cell = table.sheet.getCellByPosition(column, number)
        if quantity.isdecimal() and int(quantity) in found:
            cell.Value = float(found[int(quantity)])
        else:
            cell.String = ""


def _note(table, number, refused):
    """Say why a row has no price, at the cell that it is about, if there is one."""
    about = [n for n, name in enumerate(table.names) if name and name in refused.names]
    column = about[0] if about else table.names.index("quantity")
    place = CellAddress(table.sheet.getRangeAddress().Sheet, column, number)
    cell = table.sheet.getCellByPosition(column, number)
    if cell.getAnnotation().getString():  # somebody's own: theirs stays
        place.Column = len(table.headings)
    table.sheet.getAnnotations().insertNew(place, f"{NOTE}{refused}")


def _take_note_away(table, number):
    """Take our own notes of a row away; those of others stay."""
    notes = table.sheet.getAnnotations()
    for n in reversed(range(notes.getCount())):
        note = notes.getByIndex(n)
        if note.getPosition().Row == number and note.getString().startswith(NOTE):
            notes.removeByIndex(n)

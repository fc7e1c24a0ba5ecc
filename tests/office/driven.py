"""Drives an office over UNO: a JSON command a line in, a JSON answer a line out.

Run by the system's Python, which alone knows UNO; knows nothing of our code nor of pytest.
"""

import json
import sys
import time
import traceback

import uno
import unohelper
from com.sun.star.beans import NamedValue, PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.task import XInteractionHandler
from com.sun.star.ucb import XCommandEnvironment

PATIENCE = 60
WITH_ERRORS = 4  # com.sun.star.sheet.FormulaResult.ERROR
APPROVE = "com.sun.star.task.XInteractionApprove"
WHOLE_UPDATE = 3  # com.sun.star.document.UpdateDocMode.FULL_UPDATE: links are fetched


class Yes(unohelper.Base, XCommandEnvironment, XInteractionHandler):
    """Says yes to whatever is asked, as a person does who installs something."""

    def getInteractionHandler(self):
        return self

    def handle(self, request):
        for each in request.getContinuations():
            approve = each.queryInterface(uno.getTypeByName(APPROVE))
            if approve is not None:
                approve.select()

    def getProgressHandler(self):
        return None


class Driver:
    def __init__(self, pipe):
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext(
            "com.sun.star.bridge.UnoUrlResolver", local
        )
        deadline = time.monotonic() + PATIENCE
        while True:
            try:
                url = f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
                self.context = resolver.resolve(url)
                break
            except NoConnectException:
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.1)
        self.manager = self.context.ServiceManager
        self.desktop = self.create("com.sun.star.frame.Desktop")
        self.document = None

    def create(self, name, *arguments):
        return self.manager.createInstanceWithArgumentsAndContext(name, arguments, self.context)

    def install(self, url):
        """Install an extension for this user, as a person does who opens it."""
        get = "/singletons/com.sun.star.deployment.ExtensionManager"
        manager = self.context.getValueByName(get)
        abort = manager.createAbortChannel()
        manager.addExtension(url, (), "user", abort, Yes())

    def settings(self, address, key):
        """Set what the dialog of the extension sets."""
        provider = self.create("com.sun.star.configuration.ConfigurationProvider")
        node = PropertyValue("nodepath", 0, "/gramhour.Settings/Service", 0)
        access = "com.sun.star.configuration.ConfigurationUpdateAccess"
        stored = provider.createInstanceWithArguments(access, (node,))
        stored.Address, stored.Key = address, key
        stored.commitChanges()

    def open(self, url, hidden=False):
        """Open a document, or a new one: links are fetched."""
        told = {"Hidden": hidden, "UpdateDocMode": WHOLE_UPDATE}
        properties = tuple(PropertyValue(n, 0, v, 0) for n, v in told.items())
        self.document = self.desktop.loadComponentFromURL(url, "_blank", 0, properties)

    def close(self):
        self.document.close(True)
        self.document = None

    def save(self, url):
        self.document.storeToURL(url, ())

    def _range(self, where):
        sheet, _, cells = where.rpartition(".")
        sheets = self.document.getSheets()
        of = sheets.getByName(sheet) if sheet else sheets.getByIndex(0)
        return of.getCellRangeByName(cells)

    def read(self, where):
        """Give what cells hold: a number, a text, or their error."""
        return self._held(self._range(where))

    def _held(self, block):
        rows = [list(row) for row in block.getDataArray()]
        origin = block.getRangeAddress()
        for each in block.queryFormulaCells(WITH_ERRORS).getRangeAddresses():
            for y in range(each.StartRow - origin.StartRow, each.EndRow - origin.StartRow + 1):
                for x in range(each.StartColumn, each.EndColumn + 1):
                    cell = block.getCellByPosition(x - origin.StartColumn, y)
                    told = {"error": cell.getError(), "shown": cell.getString()}
                    rows[y][x - origin.StartColumn] = told
        return rows

    def read_sheet(self, sheet):
        """Give what all cells of a sheet hold that are in use."""
        cells = self.document.getSheets().getByName(sheet)
        cursor = cells.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.getRangeAddress()
        return self._held(cells.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow))

    def formulas(self, where):
        return [list(row) for row in self._range(where).getFormulaArray()]

    def write(self, where, rows):
        """Write cells: numbers, texts, and formulas in English."""
        block = self._range(where)
        block.setDataArray(tuple(map(tuple, rows)))
        for y, row in enumerate(rows):
            for x, value in enumerate(row):
                if isinstance(value, str) and value.startswith("="):
                    block.getCellByPosition(x, y).setFormula(value)

    def recalculate(self):
        self.document.calculateAll()

    def select(self, where):
        self.document.getCurrentController().select(self._range(where))

    def price_selected(self):
        told = NamedValue("Document", self.document)
        return self.create("gramhour.Commands").execute((told,))

    def menu(self, command):
        """Do what a menu's entry does."""
        frame = self.document.getCurrentController().getFrame()
        helper = self.create("com.sun.star.frame.DispatchHelper")
        helper.executeDispatch(frame, command, "_self", 0, ())

    def undo(self):
        self.document.getUndoManager().undo()

    def notes(self, sheet=0):
        found = self.document.getSheets().getByIndex(sheet).getAnnotations()
        said = [found.getByIndex(n) for n in range(found.getCount())]
        return {
            f"{chr(65 + each.getPosition().Column)}{each.getPosition().Row + 1}": each.getString()
            for each in said
        }

    def annotate(self, where, text):
        cell = self._range(where).getCellByPosition(0, 0)
        sheet = cell.getSpreadsheet()
        sheet.getAnnotations().insertNew(cell.getCellAddress(), text)

    def charts(self, sheet):
        """List the charts of a sheet with the ranges that they show."""
        charts = self.document.getSheets().getByName(sheet).getCharts()
        return {
            name: [self._address(each) for each in charts.getByName(name).getRanges()]
            for name in charts.getElementNames()
        }

    def _address(self, each):
        return [each.StartColumn, each.StartRow, each.EndColumn, each.EndRow]

    def quit(self):
        self.desktop.terminate()


def main():
    driver = Driver(sys.argv[1])
    print(json.dumps({"is": "ready"}), flush=True)
    for line in sys.stdin:
        asked = json.loads(line)
        name = asked.pop("do")
        started = time.monotonic()
        try:
            answer = {"is": getattr(driver, name)(**asked)}
        except Exception:
            answer = {"failed": traceback.format_exc()}
        answer["seconds"] = time.monotonic() - started
        print(json.dumps(answer), flush=True)


main()

"""Opens workbooks in an office over UNO, changes cells, recalculates all, and gives what they show.

Run by the system's Python, which alone knows UNO: a JSON command a line in, a JSON answer out.
"""

# mypy: ignore-errors
import json
import sys
import time

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

PATIENCE_S = 60


def office(pipe):
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return context.ServiceManager.createInstanceWithContext(
                "com.sun.star.frame.Desktop", context
            )
        except NoConnectException:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)


def shown(sheet):
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    return cursor.getRangeAddress().EndColumn, cursor.getRangeAddress().EndRow


def answer(desktop, asked):
    hidden = (PropertyValue("Hidden", 0, True, 0),)
    document = desktop.loadComponentFromURL(asked["url"], "_blank", 0, hidden)
    try:
        sheets = document.getSheets()
        for name, cell, value in asked["edits"]:
            sheets.getByName(name).getCellRangeByName(cell).setValue(value)
        document.calculateAll()
        told = {}
        for name in asked["sheets"]:
            sheet = sheets.getByName(name)
            columns, rows = shown(sheet)
            area = sheet.getCellRangeByPosition(0, 0, columns, rows)
            told[name] = [list(row) for row in area.getDataArray()]
        return told
    finally:
        document.close(True)


def tell(says):
    sys.stdout.write(f"{says}\n")
    sys.stdout.flush()


def main():
    desktop = office(sys.argv[1])
    tell("ready")
    for line in sys.stdin:
        tell(json.dumps(answer(desktop, json.loads(line)), default=lambda _: "#error"))
    desktop.terminate()


main()

"""Reads the cells of a workbook as the file has them, with nothing of our own."""

import io
import zipfile
from typing import NamedTuple
from xml.etree import ElementTree

TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"


class Cell(NamedTuple):
    """A cell that is not empty: where it stands, what it holds, its formula if it has one."""

    sheet: str
    row: int
    column: int
    kind: str
    value: str
    formula: str | None


def cells_of(workbook: bytes) -> list[Cell]:
    """List all cells that hold something."""
    content = zipfile.ZipFile(io.BytesIO(workbook)).read("content.xml")
    found = []
    for table in ElementTree.fromstring(content).iter(f"{TABLE}table"):
        for y, row in enumerate(table.iter(f"{TABLE}table-row")):
            x = 0
            for cell in row.iter(f"{TABLE}table-cell"):
                kind = cell.get(f"{OFFICE}value-type")
                if kind is not None:
                    said = "".join(cell.itertext())
                    kept = f"{kind}-value" if kind in ("string", "date") else "value"
                    value = cell.get(f"{OFFICE}{kept}") or said
                    name = table.get(f"{TABLE}name") or ""
                    found.append(Cell(name, y, x, kind, value, cell.get(f"{TABLE}formula")))
                x += int(cell.get(f"{TABLE}number-columns-repeated", "1"))
    return found

"""The rows of a table as the service is asked for them. Knows nothing of the office.

The headings are the names of ``/v1/unit-price``; columns of other names are the sheet's own.
"""

from gramhour_asking import Refused
from gramhour_one_piece import named_columns

DECIMALS = 9
"""As many as the service reads: what a sheet computes has digits beyond them that mean nothing."""


def columns_of(headings):
    """Say which name each column has, ``None`` for the sheet's own. Raises ``Refused``."""
    try:
        names = named_columns(["" if text is None else str(text) for text in headings])
    except ValueError as error:
        raise Refused(str(error)) from None
    if "quantity" not in names:
        raise Refused("there is no column quantity in the headings")
    return names


def told(names, cells):
    """Say a row in names and texts; empty cells say nothing. Raises ``Refused``."""
    if len(names) != len(cells):
        raise Refused("headings and row have different numbers of cells")
    return {
        name: _text(name, cell)
        for name, cell in zip(names, cells)  # noqa: B905 (as long as each other)
        if name is not None and cell not in ("", None)
    }


def _text(name, cell):
    """Write a cell as the service reads it: numbers with a point, wherever the sheet is read."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, (int, float)):
        return f"{cell:.{DECIMALS}f}".rstrip("0").rstrip(".")
    raise Refused(f"{name}: the cell has an error of its own", (name,))

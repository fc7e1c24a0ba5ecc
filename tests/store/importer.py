"""Takes in one sheet after another, and tells each revision once it is saved; for a process.

All rates of a sheet have the same figure, so that half of one would be seen.
"""

from datetime import UTC, datetime
from multiprocessing.connection import Connection
from pathlib import Path

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision
from tests.store.shops import filament, sheet

MATERIALS = 40


def import_for_ever(path: Path, told: Connection) -> None:
    """Tell 0 when it begins, then each new revision."""
    told.send(0)
    store = open_store(path, create=True)
    figure = newest_revision(store)
    while True:
        figure += 1
        materials = {f"m{n}": filament(figure) for n in range(MATERIALS)}
        wanted = sheet(figure, materials=materials)
        saved = import_sheet(store, wanted, now=datetime.now(UTC), made_by="ada")
        told.send(saved.revision)

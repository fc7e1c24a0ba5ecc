"""Run as a program: takes in one sheet after another, and tells each revision once it is saved.

All rates of a sheet have the same figure, so that half of one would be seen.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision
from tests.store.shops import filament, sheet

MATERIALS = 40


def main() -> None:
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    with_store = open_store(Path(sys.argv[1]), create=True)
    figure = newest_revision(with_store)
    while True:
        figure += 1
        materials = {f"m{n}": filament(figure) for n in range(MATERIALS)}
        told = import_sheet(
            with_store, sheet(figure, materials=materials), now=datetime.now(UTC), made_by="ada"
        )
        sys.stdout.write(f"{told.revision}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()

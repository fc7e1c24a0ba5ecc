"""Packs the extension for Calc into one file: python client/spreadsheet/pack.py gramhour.oxt

What it shares with the client, the names of a row, is the client's own file, put in as it stands.
"""

import sys
import zipfile
from pathlib import Path

HERE = Path(__file__).parent
ONE_PIECE = HERE.parent / "gramhour" / "contract" / "one_piece.py"
WHEN = (1980, 1, 1, 0, 0, 0)
"""A date for all, so that the same files make the same extension."""


def pack(target: Path) -> None:
    """Write the extension."""
    folder = HERE / "extension"
    members = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*.*")}
    members = {name: path for name, path in members.items() if "__pycache__" not in name}
    members["pythonpath/gramhour_one_piece.py"] = ONE_PIECE
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        for name, path in sorted(members.items()):
            if path.is_file():
                member = zipfile.ZipInfo(name, WHEN)
                package.writestr(member, path.read_bytes(), zipfile.ZIP_DEFLATED)


if __name__ == "__main__":
    target = sys.argv[1] if len(sys.argv) > 1 else "gramhour.oxt"
    pack(Path(target))
    sys.stdout.write(f"{target} is written: open it in LibreOffice, and say yes.\n")

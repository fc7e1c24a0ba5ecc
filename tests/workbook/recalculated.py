"""Workbooks recalculated by a real office without a screen, in a profile of its own."""

import json
import os
import secrets
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

DRIVER = Path(__file__).parent / "office_recalculating.py"
Edit = tuple[str, str, float]
"""A sheet, a cell, and the number put there."""

Sheets = dict[str, list[list[Any]]]
"""By sheet what its cells show, row by row."""

FOREIGN = ("PYTHON", "VIRTUAL_ENV", "LD_")
PATIENCE_S = 60


class Office:
    """An office that recalculates one workbook after another."""

    def __init__(self, driver: "subprocess.Popen[str]", folder: Path) -> None:
        self._driver, self._folder, self._opened = driver, folder, 0

    def shown(
        self, workbook: bytes, edits: Sequence[Edit] = (), sheets: Sequence[str] = ("Quote",)
    ) -> Sheets:
        self._opened += 1
        file = self._folder / f"{self._opened}.ods"
        file.write_bytes(workbook)
        asked = {"url": file.as_uri(), "edits": list(edits), "sheets": list(sheets)}
        assert self._driver.stdin is not None
        assert self._driver.stdout is not None
        self._driver.stdin.write(json.dumps(asked) + "\n")
        self._driver.stdin.flush()
        told: Sheets = json.loads(self._driver.stdout.readline())
        file.unlink()
        return told


@contextmanager
def office(folder: Path) -> Iterator[Office]:
    """Start an office and what drives it; both are gone afterwards."""
    pipe = f"gramhour-{secrets.token_hex(8)}"
    environment = {n: v for n, v in os.environ.items() if not n.startswith(FOREIGN)}
    environment["HOME"] = str(folder)
    running = subprocess.Popen(
        [
            "soffice",
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--headless",
            "--norestore",
            f"--accept=pipe,name={pipe};urp;",
        ],
        env=environment,
        stderr=subprocess.DEVNULL,
    )
    driver = subprocess.Popen(
        ["/usr/bin/python3", DRIVER, pipe],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    try:
        assert driver.stdout is not None
        assert driver.stdout.readline() == "ready\n"
        yield Office(driver, folder)
    finally:
        assert driver.stdin is not None
        driver.stdin.close()
        driver.wait(PATIENCE_S)
        assert driver.stdout is not None
        driver.stdout.close()
        running.wait(PATIENCE_S)

"""Runs a service of the demo shop in a process of its own."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests import demo

KEY = "a-key-of-the-tests"
ROOT = Path(__file__).parent.parent.parent


class Running(NamedTuple):
    """A service, where it is, and how many requests in batches each of its calls had."""

    process: subprocess.Popen[str]
    port: int
    file: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def asked(self) -> list[int]:
        return [int(line) for line in self.file.read_text().split()] if self.file.exists() else []


def a_store(path: Path) -> Path:
    """Make the demo shop's store, with a key that sees costs."""
    store = open_store(path, create=True)
    now = datetime.now(UTC)
    import_sheet(store, demo.sheet(), now=now, made_by="tests")
    add_key(store, "tests", KEY, ["cost"], now=now)
    store.close()
    return path


@contextmanager
def running(store: Path, file: Path, *, port: int = 0, dies_after: int = 0) -> Iterator[Running]:
    """Run it, until it dies or is not needed any more."""
    command = [sys.executable, "-m", "tests.client.counted_service"]
    arguments = [str(store), str(port), str(file), str(dies_after)]
    with subprocess.Popen(
        [*command, *arguments], cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            yield Running(process, int(process.stdout.readline()), file)
        finally:
            process.kill()

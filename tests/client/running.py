"""Runs a service of the demo shop in a process of its own."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests import demo
from tests.client.counted_service import serve_counted
from tests.forked import FORKS, Forked

KEY = "a-key-of-the-tests"
ROOT = Path(__file__).parent.parent.parent


class Running(NamedTuple):
    """A service, where it is, and how many requests in batches each of its calls had."""

    process: Forked
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
    mine, theirs = FORKS.Pipe(duplex=False)
    process = Forked(serve_counted, store, port, file, dies_after, theirs)
    theirs.close()
    try:
        yield Running(process, mine.recv(), file)
    finally:
        mine.close()
        process.kill()
        process.wait()

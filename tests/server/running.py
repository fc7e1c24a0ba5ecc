"""Runs the real command in a process of its own, and always stops it with its workers."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, datetime
from http.client import HTTPConnection
from pathlib import Path
from typing import IO, NamedTuple

import msgspec
from click.testing import CliRunner, Result

from gramhour.contract.rates import RateSheet
from gramhour_service.commandline import main
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.opening import open_store
from tests import demo
from tests.forked import Forked, gramhour
from tests.http.door import HERE, JSON, add_keys, secret

COMMAND = (
    sys.executable,
    *("-W", "error", "-W", "ignore::ResourceWarning"),  # sockets may be left to the system
    str(Path(sys.executable).with_name("gramhour")),
)
PATIENCE = 60.0
WORKER = "X-Gramhour-Worker"
TOLD_OF_CALLERS = {"WARNING:  Invalid HTTP request received."}
PINS = {"rates_on": "2099-12-31", "from": "2099-12-31T09:00:00+01:00"}
QUOTE = msgspec.json.encode({**demo.request("herb-planter"), **PINS})
"""A request of the demo's, for a day long after all changes."""


class Answer(NamedTuple):
    """What came back, the names of the headers in lower case."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def worker(self) -> str:
        """Say which process answered."""
        return self.headers[WORKER.lower()]


def ask(
    connection: HTTPConnection, method: str, path: str, key: str | None = None, **sent: object
) -> Answer:
    """Ask on a connection that stays open; ``sent`` are ``body`` and ``headers``."""
    body, more = sent.get("body"), sent.get("headers", {})
    assert isinstance(more, dict)
    headers = {} if key is None else {"Authorization": f"Bearer {secret(key)}"}
    if body is not None:
        headers["Content-Type"] = JSON
    connection.request(method, path, body, {**headers, **more})  # type: ignore[arg-type]
    answer = connection.getresponse()
    told = {name.lower(): value for name, value in answer.getheaders()}
    return Answer(answer.status, told, answer.read())


Process = Forked | subprocess.Popen[bytes]


class Service(NamedTuple):
    """A service: its process, where it listens, and the file with all that it printed."""

    process: Process
    port: int
    printed: Path
    kept_open: ExitStack

    def connect(self) -> HTTPConnection:
        """Make a connection, which is opened by the first request."""
        return HTTPConnection(HERE, self.port, timeout=PATIENCE)

    def ask(self, method: str, path: str, key: str | None = None, **sent: object) -> Answer:
        """Ask on a new connection."""
        with closing(self.connect()) as connection:
            return ask(connection, method, path, key, **sent)

    def to_each_worker(self, workers: int, each: int = 1) -> dict[str, list[HTTPConnection]]:
        """Open connections until every worker has as many; a connection stays with its worker."""
        found: dict[str, list[HTTPConnection]] = {}
        deadline = time.monotonic() + PATIENCE
        while len(found) < workers or any(len(each_of) < each for each_of in found.values()):
            assert time.monotonic() < deadline, f"only {found} of {workers} workers answer"
            connection = self.kept_open.enter_context(closing(self.connect()))
            mine = found.setdefault(ask(connection, "GET", "/health").worker, [])
            if len(mine) < each:
                mine.append(connection)
            else:
                connection.close()
        return found

    def stop(self) -> int:
        """Tell it to stop, wait until it has, and say its exit code."""
        self.process.terminate()
        return self.process.wait(PATIENCE)


@contextmanager
def serving(
    store: Path, *options: str, cuts_off: bool = False, loads_itself: bool = False
) -> Iterator[Service]:
    """Start ``gramhour serve`` on a free port, wait until it answers, and stop it in any case.

    What it printed is checked at the end: where it serves, and no trouble of its own, unless it
    is to cut a caller off. It is forked from a process of the tests unless it ``loads_itself``.
    """
    printed = Path(f"{store.parent}.printed")
    arguments = ("serve", "--store", str(store), "--port", "0", "--tell-worker", *options)
    with ExitStack() as stack:
        printed.write_bytes(b"")
        if loads_itself:
            to = stack.enter_context(printed.open("wb"))
            process = _program(*arguments, to=to)
        else:
            process = gramhour(*arguments, printed=printed)
        try:
            service = Service(process, _port(process, printed), printed, stack)
            wait_until(lambda: _answers(service))
            yield service
            if process.poll() is None:
                service.stop()
            _, *further = printed.read_text().splitlines()
            told = {line for line in further if not line.startswith("{")}
            assert cuts_off or told <= TOLD_OF_CALLERS, told
        finally:
            _end_group(process)


def _program(*arguments: str, to: IO[bytes]) -> Process:
    command = [*COMMAND, *arguments]
    return subprocess.Popen(command, stdout=to, stderr=subprocess.STDOUT, start_new_session=True)


def wait_until(is_so: Callable[[], bool], patience: float = PATIENCE) -> None:
    """Wait until something is so; fail if it takes too long."""
    deadline = time.monotonic() + patience
    while not is_so():
        assert time.monotonic() < deadline, "it took too long"
        time.sleep(0.02)


def _port(process: Process, printed: Path) -> int:
    wait_until(lambda: b"\n" in printed.read_bytes() or process.poll() is not None)
    line = printed.read_text()
    assert line.startswith(f"Serving on http://{HERE}:"), line
    return int(line.removeprefix(f"Serving on http://{HERE}:").partition(";")[0])


def _answers(service: Service) -> bool:
    assert service.process.poll() is None, service.printed.read_text()
    try:
        return service.ask("GET", "/health").status == 200
    except ConnectionError:
        return False


def _end_group(process: Process) -> None:
    """End what is left of the processes that were started here."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def command(store: Path, *arguments: str) -> Result:
    """Run another command on the same store, in this process, which is none of the service's."""
    environment = {"GRAMHOUR_STORE": str(store)}
    return CliRunner(env=environment).invoke(main, arguments, catch_exceptions=False)


def take_in(store: Path, sheet: RateSheet) -> int | None:
    """Put a sheet in force from today on, as another process does; say the new revision."""
    with closing(open_store(store, create=True)) as opened:
        return import_sheet(opened, sheet, now=datetime.now(UTC), made_by="tests").revision


def demo_store(store: Path) -> Path:
    """Make a store with the demo's sheet, in force from today on, and a key of each kind."""
    take_in(store, demo.sheet())
    return add_keys(store)

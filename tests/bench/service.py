"""Times quotes over HTTP, beside the same server's echo of the same bodies, and within a process.

From the repository's root: python -m tests.bench.service. It takes about a minute.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
from sqlite_utils import Database

from gramhour.contract.answer import Quote
from gramhour.contract.documents import parse_json
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.answer.quoting import answer_request
from gramhour_service.sheets.in_force import Pinned, Sheets
from gramhour_service.store.keys import find_key
from gramhour_service.store.opening import open_store, read_only
from tests import demo
from tests.bench.load import Load, load
from tests.http.door import HERE, JSON, secret
from tests.server.running import demo_store, serving

CONNECTIONS = 32
ROUNDS = 7
SECONDS = 1.5
REPEATS = 300
BREAKS = {"1 break": [25], "6 breaks": [1, 5, 10, 25, 50, 100]}
ENCODER = msgspec.json.Encoder()


def body_of(breaks: list[int]) -> bytes:
    return msgspec.json.encode({**demo.request("herb-planter"), "breaks": breaks})


def asked(body: bytes) -> bytes:
    head = (
        f"POST /v1/quotes HTTP/1.1\r\nHost: {HERE}\r\nAuthorization: Bearer {secret('cost')}\r\n"
        f"Content-Type: {JSON}\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


@contextmanager
def echoing() -> Iterator[int]:
    """Run the echo in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.echo"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield int(process.stdout.readline())
        finally:
            process.terminate()


def say(*cells: str) -> None:
    sys.stdout.write(f"{cells[0]:<24}" + "".join(f"{cell:>12}" for cell in cells[1:]) + "\n")
    sys.stdout.flush()


def over_http(store: Path) -> None:
    """Load service and echo in turn, so that a busy moment of the machine touches both."""
    titles = ("quotes/s", "echo/s", "quote/echo", "p50, ms", "p99, ms", "echo p50", "echo p99")
    say(f"{CONNECTIONS} connections", *titles)
    with serving(store) as service, echoing() as echo_port:
        for name, breaks in BREAKS.items():
            sent = body_of(breaks)
            body = asked(sent)
            first, echoed = (
                load(port, body, connections=CONNECTIONS, seconds=SECONDS / 2).answer
                for port in (service.port, echo_port)
            )
            assert len(msgspec.json.decode(first)["breaks"]) == len(breaks)
            assert echoed == sent
            quotes: list[Load] = []
            echoes: list[Load] = []
            for _ in range(ROUNDS):
                for port, loads in ((service.port, quotes), (echo_port, echoes)):
                    loads.append(load(port, body, connections=CONNECTIONS, seconds=SECONDS))
            say(name, *figures(quotes, echoes))


def figures(quotes: list[Load], echoes: list[Load]) -> Iterator[str]:
    """Write the medians over all rounds."""
    rates = [[each.per_second for each in loads] for loads in (quotes, echoes)]
    for each in rates:
        yield f"{statistics.median(each):.0f}"
    yield f"{statistics.median(q / e for q, e in zip(*rates, strict=True)):.3f}"
    for loads in (quotes, echoes):
        for share in (50, 99):
            yield f"{statistics.median(each.percentile(share) for each in loads):.2f}"


def timed(step: Callable[[], Any]) -> float:
    """Time a step: the median in microseconds."""
    took = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        step()
        took.append(1_000_000 * (time.perf_counter() - begun))
    return statistics.median(took)


def steps_of(store: Database, sheets: Sheets, body: bytes) -> list[Callable[[], Any]]:
    """List what is to be timed for a body: all together, then each step."""

    def key() -> Any:
        return find_key(store, secret("cost"))

    def pin() -> Pinned:
        return sheets.pinned(datetime.now(UTC))

    def parse() -> Any:
        return parse_json(body)

    def read(sent: Any, pinned: Pinned) -> QuoteRequest:
        return read_request(sent, pinned.in_force.sheet)

    def answer(request: QuoteRequest, pinned: Pinned) -> Quote:
        in_force = pinned.in_force
        return answer_request(
            request,
            in_force.sheet,
            revision=in_force.revision,
            on=pinned.on,
            kept=in_force.kept,
        )

    def together() -> bytes:
        key()
        pinned = pin()
        return ENCODER.encode(answer(read(parse(), pinned), pinned))

    sent, pinned = parse(), pin()
    request = read(sent, pinned)
    quote = answer(request, pinned)
    return [
        together,
        key,
        pin,
        parse,
        lambda: read(sent, pinned),
        lambda: answer(request, pinned),
        lambda: ENCODER.encode(quote),
    ]


def within_a_process(path: Path) -> None:
    """Time what the service does for a quote, and each step of it, without HTTP."""
    store = read_only(open_store(path))
    sheets = Sheets(store)
    say("within a process, us", "together", "key", "sheet", "parse", "read", "answer", "encode")
    for name, breaks in BREAKS.items():
        say(name, *(f"{timed(step):.0f}" for step in steps_of(store, sheets, body_of(breaks))))
    store.close()


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        over_http(store)
        sys.stdout.write("\n")
        within_a_process(store)


if __name__ == "__main__":
    main()

"""Times quotes over HTTP, beside the same server's echo of the same bodies, and within a process.

From the repository's root: python -m tests.bench.service. It takes about a minute. Medians, with
the lower and upper quartile where it says spread; the echo is the same server's, of the same
bodies, in the same run: of the server alone, and in the row below as the framework echoes, which
is the least that any service made with it takes. ``cpu, us`` is what an answer takes of a core,
whatever else goes on.
"""

import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import msgspec

from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.breaks import costs_at, price_at
from gramhour_service.calculation.builds import builds_of_product
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.settle import unit_cost
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import resolve
from tests import demo
from tests.bench.load import Load, Served, load
from tests.bench.within import BREAKS, Say, body_of, timed, within_a_process
from tests.http.door import HERE, JSON, secret
from tests.server.running import demo_store, serving

CONNECTIONS = 32
ROUNDS = 7
SECONDS = 1.5
GOAL_OF_ONE = 90


def asked(body: bytes) -> bytes:
    head = (
        f"POST /v1/quotes HTTP/1.1\r\nHost: {HERE}\r\nAuthorization: Bearer {secret('cost')}\r\n"
        f"Content-Type: {JSON}\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


@contextmanager
def echoing(by: str) -> Iterator[Served]:
    """Run an echo in a process of its own: ``bare``, or by the ``framework``."""
    command = [sys.executable, "-m", "tests.bench.echo", by]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield Served(int(process.stdout.readline()), process.pid)
        finally:
            process.terminate()


class Report:
    """Prints rows as they are known, and keeps them."""

    def __init__(self) -> None:
        self.rows: list[str] = []

    def say(self, *cells: str) -> None:
        row = f"{cells[0]:<24}" + "".join(f"{cell:>12}" for cell in cells[1:]) if cells else ""
        self.rows.append(row.rstrip())
        sys.stdout.write(row + "\n")
        sys.stdout.flush()


TITLES = ("a second", "echo's", "of echo's", "goal", "cpu, us", "echo's", "of echo's",
          "p50, ms", "p99, ms", "echo's p50", "echo's p99")  # fmt: skip
GOAL_OF_QUOTES = ">= 0.60"
FRAMEWORK = "  the framework's echo"


def over_http(store: Path, say: Say) -> None:
    """Load service and echoes in turn, so that a busy moment of the machine touches all."""
    say(f"quotes, {CONNECTIONS} connections", *TITLES)
    with serving(store, "--no-log") as running:
        service = Served(running.port, running.process.pid)
        for name, breaks in BREAKS.items():
            sent = body_of(breaks)
            answer, echo = beside_echoes(service, asked(sent), name, GOAL_OF_QUOTES, say)
            assert len(msgspec.json.decode(answer)["breaks"]) == len(breaks)
            assert echo == sent


def beside_echoes(
    service: Served, body: bytes, name: str, goal: str, say: Say
) -> tuple[bytes, bytes]:
    """Say what a service does beside both echoes of the same; give its answer and theirs."""
    with echoing("bare") as bare, echoing("framework") as framework:
        answers, by_server, by_framework = in_turn((service, bare, framework), body)
    say(name, *figures(answers, by_server, goal))
    say(FRAMEWORK, *figures(answers, by_framework, "-"))
    assert by_server[0].answer == by_framework[0].answer
    return answers[0].answer, by_server[0].answer


def in_turn(served: Sequence[Served], body: bytes) -> list[list[Load]]:
    """Ask all the same, round by round, when all are warm."""
    for each in served:
        load(each, body, connections=CONNECTIONS, seconds=SECONDS / 2)
    rounds = [
        [load(each, body, connections=CONNECTIONS, seconds=SECONDS) for each in served]
        for _ in range(ROUNDS)
    ]
    return [list(loads) for loads in zip(*rounds, strict=True)]


def figures(quotes: list[Load], echoes: list[Load], goal: str) -> Iterator[str]:
    """Write the medians over all rounds."""
    rates = [[each.per_second for each in loads] for loads in (quotes, echoes)]
    for each in rates:
        yield f"{statistics.median(each):.0f}"
    yield f"{statistics.median(q / e for q, e in zip(*rates, strict=True)):.3f}"
    yield goal
    cpu = [statistics.median(each.cpu_us for each in loads) for loads in (quotes, echoes)]
    yield from (f"{each:.0f}" for each in cpu)
    yield f"{cpu[1] / cpu[0]:.3f}"
    for loads in (quotes, echoes):
        for share in (50, 99):
            yield f"{statistics.median(each.percentile(share) for each in loads):.2f}"


def of_one_quantity(say: Say) -> None:
    """Time the cost and the price of a quantity, as a repricing asks for them, at six breaks."""
    say("one quantity, us", "together", "spread", "goal", "resolve", "cost+price", "breaks")
    for name in demo.NAMES:
        request = read_request(demo.request(name), demo.sheet())
        kept: Kept = {}
        with costing_arithmetic():
            job = resolve(request, demo.sheet(), kept=kept).job

            def priced(job: Job = job) -> None:
                made = builds_of_product(job.product, job.rates)
                for quantity in job.breaks:
                    cost = costs_at(job, made, quantity).lines.total
                    unit_cost(cost, quantity)
                    price_at(job, quantity, cost)

            def resolved(request: QuoteRequest = request, kept: Kept = kept) -> Job:
                return resolve(request, demo.sheet(), kept=kept).job

            steps = [timed(step) for step in (lambda: priced(resolved()), resolved, priced)]
        shares = [step.over(len(job.breaks)) for step in steps]
        together, *each = (f"{share.median:.0f}" for share in shares)
        say(name[:23], together, shares[0].spread, f"<= {GOAL_OF_ONE}", *each, str(len(job.breaks)))


def main() -> None:
    report = Report()
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        over_http(store, report.say)
        report.say()
        within_a_process(store, report.say)
    report.say()
    of_one_quantity(report.say)


if __name__ == "__main__":
    main()

"""Times the start of the service, until it answers, with one worker and with two.

``python -m tests.bench.starting``. By the clock, which waits for whatever else the machine does,
and by what the service and its workers use of a core. Goal: under 5 s, after a kill too.
"""

import os
import signal
import statistics
import tempfile
import time
from pathlib import Path

from tests.bench.load import cpu_of_group
from tests.bench.service import Report
from tests.server.running import demo_store, serving

ROUNDS = 5
WORKERS = (1, 2)


def started(store: Path, workers: int) -> tuple[float, float]:
    """Start a service, kill it when it answers; give the seconds by the clock and of a core."""
    began = time.perf_counter()
    options = ("--no-log", "--workers", str(workers))
    with serving(store, *options, cuts_off=True, loads_itself=True) as service:
        took, used = time.perf_counter() - began, cpu_of_group(service.process.pid)
        os.killpg(service.process.pid, signal.SIGKILL)
        service.process.wait()
    return took, used


def main() -> None:
    report = Report()
    report.say("answers after a kill", "clock, s", "most, s", "goal", "cpu, s", "most, s")
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        for workers in WORKERS:
            starts = [started(store, workers) for _ in range(ROUNDS)]
            clock, cpu = zip(*starts, strict=True)
            by_clock, of_core = (
                [f"{statistics.median(each):.2f}", f"{max(each):.2f}"] for each in (clock, cpu)
            )
            report.say(f"{workers} worker(s)", *by_clock, "<= 5", *of_core)


if __name__ == "__main__":
    main()

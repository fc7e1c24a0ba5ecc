"""Times batches of 1,000 quotes and what single quotes wait meanwhile, and the price of a sku.

``python -m tests.bench.batches``. One worker. The price of a sku stands beside the same server's
echoes of the same request, as quotes do in ``tests.bench.service``; single quotes are asked by
another process all the time, first while nothing else goes on.
"""

import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import msgspec

from tests import demo
from tests.bench.expensive import Met, rest, waited
from tests.bench.load import Served
from tests.bench.service import CONNECTIONS, TITLES, Report, beside_echoes
from tests.bench.within import Say
from tests.http.door import HERE, JSON, secret
from tests.server.running import Service, command, demo_store, serving

REQUESTS = 1_000
BATCHES = 5
GOAL = 5_000
SKU = (
    f"GET /v1/unit-price?sku=HP-W&quantity=12 HTTP/1.1\r\nHost: {HERE}\r\n"
    f"Authorization: Bearer {secret('price')}\r\n\r\n"
).encode()


def offer(store: Path, folder: Path) -> None:
    """List the demo's goods, and their prices, in the demo's store."""
    for what in ("products", "listings"):
        file = folder / f"my-{what}.{'ndjson' if what == 'products' else 'csv'}"
        file.write_bytes(command(store, f"demo-{what}").stdout_bytes)
        done = command(store, what, "import", str(file))
        assert done.exit_code == 0, done.output
    done = command(store, "reprice", "--apply", "--note", "how we begin", "--lines", "0")
    assert done.exit_code == 0, done.output


def price_of_a_sku(service: Service, say: Say) -> None:
    say(f"sku, {CONNECTIONS} connections", *TITLES)
    served = Served(service.port, service.process.pid)
    price, _ = beside_echoes(served, SKU, "a listed price", ">= 0.75", say)
    assert float(price) > 0


def batch(kind: str) -> bytes:
    """Write a batch: of one product at many quantities, or of products that are all different."""
    asked = demo.request("herb-planter")
    (first, *others) = asked["product"]["pieces"]
    requests: list[dict[str, Any]] = []
    for n in range(REQUESTS):
        one = {**asked, "quantity": 1 + n % 100, "breaks": []}
        if kind == "of different goods":
            pieces = [{**first, "print_min": 60 + n}, *others]
            one["product"] = {**asked["product"], "pieces": pieces}
        requests.append(one)
    return msgspec.json.encode({"requests": requests})


def batches(service: Service, say: Say) -> None:
    """Ask for batches, one after another, while somebody else asks for single quotes."""
    waited(service, rest)  # the first answers read the rates
    _, idle = waited(service, rest)
    say("batches of 1,000", "quotes/s", "goal", "cpu/s", "others p99", "when idle", "ratio", "goal")
    for kind in ("of one product", "of different goods"):
        body, served = batch(kind), Served(service.port, service.process.pid)
        rates = list[tuple[float, float]]()

        def ask(body: bytes = body, rates: Any = rates, served: Served = served) -> Met:
            for _ in range(BATCHES):
                rates.append(_asked(served, body))
            return Met(200, 0.0, "")

        ask()
        alone = sorted(rates)[BATCHES // 2]
        _, others = waited(service, ask)
        p99, before = (each[len(each) * 99 // 100] for each in (others, idle))
        say(kind, *_told(alone, p99, before))


def _told(alone: tuple[float, float], p99: float, before: float) -> Iterator[str]:
    yield from (f"{alone[0]:.0f}", f">= {GOAL}", f"{alone[1]:.0f}")
    yield from (f"{p99:.1f} ms", f"{before:.1f} ms", f"{p99 / before:.1f}", "<= 3")


def _asked(served: Served, body: bytes) -> tuple[float, float]:
    """Give the quotes a second by the clock, and a second of the worker's core."""
    headers = {"Authorization": f"Bearer {secret('cost')}", "Content-Type": JSON}
    began, used = time.perf_counter(), served.cpu()
    with closing(HTTPConnection(HERE, served.port, timeout=120)) as connection:
        connection.request("POST", "/v1/quotes/batch", body, headers)
        told = msgspec.json.decode(connection.getresponse().read())
    took, cpu = time.perf_counter() - began, served.cpu() - used
    assert [set(each) for each in told["answers"]] == [{"quote"}] * REQUESTS, told["answers"][0]
    return REQUESTS / took, REQUESTS / cpu


def main() -> None:
    report = Report()
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        offer(store, Path(folder))
        with serving(store, "--no-log", "--prices-a-minute", "1000000") as service:
            price_of_a_sku(service, report.say)
            report.say()
            batches(service, report.say)


if __name__ == "__main__":
    main()

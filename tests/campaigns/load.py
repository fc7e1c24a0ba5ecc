"""Mixed load through nginx on a service of two workers: errors, waiting, memory.

``python -m tests.campaigns.load [SECONDS] [CALLERS]``. Each caller asks, waits a little, and asks
something else: quotes, prices, lists, batches, meshes; one more changes a rate every two seconds.
Told: answers by status, how long they took, and what the workers' memory grew by a minute, after
the first quarter of the time. Without a pause (``CALLERS`` below zero, of so many) it tells what
the machine can do at that moment.
"""

import os
import random
import sys
import tempfile
import threading
import time
from collections import Counter
from itertools import count
from pathlib import Path

import httpx
import msgspec

from tests.bench.batches import offer
from tests.cube import CUBE
from tests.deploy.proxied import HERE, Proxied, nginx
from tests.http.door import JSON, secret
from tests.server.running import QUOTE, Service, demo_store, serving

BATCH = msgspec.json.encode({"requests": [msgspec.Raw(QUOTE)] * 20})
SKU = b'{"sku":"HP-W","quantity":3}'
MESH = {"Content-Type": "model/stl"}
AS_JSON = {"Content-Type": JSON}
ASKED: tuple[tuple[int, str, str, str, bytes, dict[str, str]], ...] = (
    (40, "POST", "/v1/quotes", "cost", QUOTE, AS_JSON),
    (10, "POST", "/v1/quotes", "price", SKU, AS_JSON),
    (15, "GET", "/v1/prices?channel=own-shop", "price", b"", {}),
    (10, "GET", "/v1/rates", "cost", b"", {}),
    (10, "GET", "/v1/revisions?limit=5", "cost", b"", {}),
    (5, "POST", "/v1/quotes/batch", "cost", BATCH, AS_JSON),
    (2, "POST", "/v1/measurements", "price", CUBE, MESH),
    (8, "GET", "/health", "", b"", {}),
)
PAUSE = 0.05
BETWEEN_CHANGES = 2.0
SECONDS_A_MINUTE = 60


class Seen:
    """What callers saw."""

    def __init__(self) -> None:
        self.statuses: Counter[tuple[str, int]] = Counter()
        self.took: dict[str, list[float]] = {}
        self.lock = threading.Lock()

    def add(self, path: str, status: int, seconds: float) -> None:
        with self.lock:
            self.statuses[path, status] += 1
            self.took.setdefault(path, []).append(1_000 * seconds)


def call(
    proxied: Proxied, seen: Seen, until: float, chance: random.Random, pause: float = PAUSE
) -> None:
    weights = [each[0] for each in ASKED]
    with proxied.client(timeout=60) as client:
        while time.monotonic() < until:
            _, method, path, key, body, headers = chance.choices(ASKED, weights)[0]
            ask(client, seen, method, path, key, body, headers)
            time.sleep(chance.uniform(0, 2 * pause))


def ask(
    client: httpx.Client,
    seen: Seen,
    method: str,
    path: str,
    key: str,
    body: bytes = b"",
    headers: dict[str, str] | None = None,
) -> httpx.Response:
    """Ask as somebody outside does, and note how long it took."""
    sent = {"Host": "shop.example", **(headers or {})}
    if key:
        sent["Authorization"] = f"Bearer {secret(key)}"
    request = client.build_request(method, path, content=body or None, headers=sent)
    request.extensions["sni_hostname"] = "shop.example"
    began = time.monotonic()
    answer = client.send(request)
    seen.add(path.partition("?")[0], answer.status_code, time.monotonic() - began)
    return answer


def change(proxied: Proxied, seen: Seen, until: float) -> None:
    """Change what work costs, again and again."""
    with proxied.client(timeout=60) as client:
        for number in count():
            if time.monotonic() > until:
                return
            told = ask(client, seen, "GET", "/v1/revisions?limit=1", "rates").json()
            sent = {
                "based_on_revision": told["items"][0]["rates_revision"],
                "note": f"change {number}",
                "changes": [
                    {"kind": "shop", "code": "labour_rate_per_hour", "value": f"{25 + number % 20}"}
                ],
            }
            body = msgspec.json.encode(sent)
            ask(client, seen, "POST", "/v1/rate-changes", "rates", body, AS_JSON)
            time.sleep(BETWEEN_CHANGES)


def memory_of(service: Service) -> int:
    """Say how many kB the service and its workers hold."""
    pids = [service.process.pid]
    children = Path(f"/proc/{pids[0]}/task/{pids[0]}/children").read_text().split()
    found = 0
    for pid in (*pids, *map(int, children)):
        status = Path(f"/proc/{pid}/status").read_text()
        found += int(status.partition("VmRSS:")[2].split()[0])
    return found


def slope(points: list[tuple[float, int]]) -> float:
    """Say by how much a line through points rises a minute (least squares)."""
    n = len(points)
    mean_x, mean_y = sum(x for x, _ in points) / n, sum(y for _, y in points) / n
    above = sum((x - mean_x) * (y - mean_y) for x, y in points)
    return SECONDS_A_MINUTE * above / sum((x - mean_x) ** 2 for x, _ in points)


def main(seconds: int, callers: int) -> int:
    pause = PAUSE if callers > 0 else 0.0
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        offer(store, Path(folder))
        with (
            serving(store, "--workers", "2", "--no-log", "--proxy", HERE) as service,
            nginx(Path(folder) / "nginx", service.port) as proxied,
        ):
            seen, until = Seen(), time.monotonic() + seconds
            threads = [
                threading.Thread(target=call, args=(proxied, seen, until, random.Random(n), pause))
                for n in range(abs(callers))
            ]
            threads.append(threading.Thread(target=change, args=(proxied, seen, until)))
            for thread in threads:
                thread.start()
            points: list[tuple[float, int]] = []
            while time.monotonic() < until:
                points.append((time.monotonic(), memory_of(service)))
                time.sleep(1)
            for thread in threads:
                thread.join()
    return tell(seen, points[len(points) // 4 :], seconds)


def tell(seen: Seen, points: list[tuple[float, int]], seconds: int) -> int:
    for path, took in sorted(seen.took.items()):
        took.sort()
        told = {status: n for (of, status), n in sorted(seen.statuses.items()) if of == path}
        sys.stdout.write(
            f"{path:20} {told} median {took[len(took) // 2]:.1f} ms, "
            f"p99 {took[len(took) * 99 // 100]:.1f} ms\n"
        )
    total = sum(seen.statuses.values())
    faults = sum(n for (_, status), n in seen.statuses.items() if status >= 500)
    sys.stdout.write(
        f"{total / seconds:.0f} answers a second for {seconds} s, {faults} of 5xx; memory "
        f"{points[0][1] / 1024:.0f} MiB to {points[-1][1] / 1024:.0f} MiB, "
        f"{slope(points) / 1024:+.2f} MiB a minute; load {os.getloadavg()[2]:.1f} on "
        f"{os.cpu_count()} cores\n"
    )
    return bool(faults)


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]]
    sys.exit(main(*(given + [600, 8][len(given) :])))

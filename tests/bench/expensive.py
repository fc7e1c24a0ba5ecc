"""Six expensive requests to one worker, each with how long it took and what others met meanwhile.

``python -m tests.bench.expensive``. A second client asks for a quote, again and again, in a
process of its own; beside each expensive request stands the 99th percentile of how long that
client waited. Goal: each ends within 2 s or is refused, and the others wait less than 50 ms.

On a machine that has much else to do, everybody waits for that too. ``held`` does not count it:
the CPU milliseconds for which the service's loop did not turn, at most.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import msgspec

from tests import demo
from tests.bench.watched import watching
from tests.http.door import HERE, secret
from tests.server.running import QUOTE, demo_store

HEADERS = {"Authorization": f"Bearer {secret('listings')}", "Content-Type": "application/json"}
BREAKS = list(range(1, 51))
PAUSE = 0.004
QUIET_SECONDS = 3.0


class Listening(Protocol):
    """A service that listens on this machine."""

    @property
    def port(self) -> int: ...


class Costly(NamedTuple):
    """An expensive request."""

    method: str
    path: str
    body: bytes = b""
    headers: tuple[tuple[str, str], ...] = ()


def many_pieces() -> dict[str, Any]:
    asked = demo.request("herb-planter")
    (piece, *_) = asked["product"]["pieces"]
    pieces = [{**piece, "name": f"piece {n}"} for n in range(100)]
    return {**asked, "breaks": BREAKS, "product": {**asked["product"], "pieces": pieces}}


def great_cover() -> dict[str, Any]:
    """A need of a million parts in packs whose sizes have no common measure."""
    asked = demo.request("herb-planter")
    sizes = (9_973, 4_987, 997, 499, 101, 53, 7)
    offers = [{"pack_quantity": n, "price": f"{n * 0.1 + n**0.5:.2f}"} for n in sizes]
    parts = {"tag": {"name": "Tag", "charging": "order", "offers": offers}}
    product = {**asked["product"], "components": [{"component": "tag", "count": 10}]}
    return {
        **asked,
        "quantity": 100_000,
        "breaks": [],
        "product": product,
        "rate_overrides": {"components": parts},
    }


def mesh(triangles: int) -> bytes:
    """A closed surface of so many triangles: a sheet of bumps with a flat underside."""
    import numpy as np  # noqa: PLC0415 (only here)

    side = int((triangles / 4) ** 0.5)
    steps = np.arange(side + 1, dtype=np.float32)
    x, y = np.meshgrid(steps, steps, indexing="ij")
    top = np.stack([x, y, 3 + np.sin(x) * np.cos(y)], axis=-1)
    under = np.stack([x, y, np.zeros_like(x)], axis=-1)

    def faces(of: Any) -> Any:
        a, b, c, d = of[:-1, :-1], of[1:, :-1], of[1:, 1:], of[:-1, 1:]
        return np.concatenate([np.stack([a, b, c], 2), np.stack([a, c, d], 2)]).reshape(-1, 3, 3)

    corners = np.concatenate([faces(top), faces(under)[:, ::-1]])
    rows = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    rows["c"] = corners
    return bytes(80) + len(corners).to_bytes(4, "little") + rows.tobytes()


def costly() -> dict[str, Costly]:
    batch = {"requests": [{**demo.request("herb-planter"), "breaks": BREAKS}] * 1_000}
    encoded = [msgspec.json.encode(each) for each in (many_pieces(), batch, great_cover())]
    stl = (("Content-Type", "model/stl"),)
    return {
        "100 pieces × 50 breaks": Costly("POST", "/v1/quotes", encoded[0]),
        "a batch of 1,000 × 50 breaks": Costly("POST", "/v1/quotes/batch", encoded[1]),
        "a cover of 10⁶": Costly("POST", "/v1/quotes", encoded[2]),
        "a mesh of 10⁶ triangles": Costly("POST", "/v1/measurements", mesh(1_000_000), stl),
        "a cursor of 10 kB": Costly("GET", f"/v1/listings?cursor={'x' * 10_000}"),
        "an Accept of 100 kB": Costly(
            "GET", "/v1/rates", headers=(("Accept", ",".join(["text/x;q=0.1"] * 8_000)),)
        ),
    }


class Met(NamedTuple):
    """What came of an expensive request."""

    status: int
    seconds: float
    says: str


def ask(service: Listening, asked: Costly) -> Met:
    began = time.perf_counter()
    with closing(HTTPConnection(HERE, service.port, timeout=120)) as connection:
        try:
            connection.request(
                asked.method, asked.path, asked.body or None, {**HEADERS, **dict(asked.headers)}
            )
            answer = connection.getresponse()
            body, status = answer.read(), answer.status
        except (ConnectionError, OSError) as error:
            return Met(0, time.perf_counter() - began, type(error).__name__)
    took = time.perf_counter() - began
    says = "" if status == 200 else body[:300].decode(errors="replace")
    return Met(status, took, says)


def waited(service: Listening, work: Callable[[], Met]) -> tuple[Met, list[float]]:
    """Do something expensive while another client asks; say how long that waited each time."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.bench.expensive", "other", str(service.port)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as other:
        assert other.stdin is not None
        assert other.stdout is not None
        other.stdout.readline()  # it has begun
        met = work()
        other.stdin.close()
        told = json.loads(other.stdout.readline())
    return met, sorted(1_000 * each for each in told)


def be_the_other(port: int) -> None:
    """Ask until standard input is closed; tell how long each answer took."""
    import select  # noqa: PLC0415 (of this role only)

    took: list[float] = []
    with closing(HTTPConnection(HERE, port, timeout=120)) as connection:
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        while not select.select([sys.stdin], [], [], PAUSE)[0]:
            began = time.perf_counter()
            connection.request("POST", "/v1/quotes", QUOTE, HEADERS)
            assert connection.getresponse().read()
            took.append(time.perf_counter() - began)
    sys.stdout.write(json.dumps(took or [0.0]) + "\n")


def rest() -> Met:
    time.sleep(QUIET_SECONDS)
    return Met(200, QUIET_SECONDS, "")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        with watching(store) as service:
            ways: dict[str, Callable[[], Met]] = {"nothing": rest}
            ways |= {
                name: lambda asked=asked: ask(service, asked)  # type: ignore[misc]
                for name, asked in costly().items()
            }
            waited(service, rest)  # the first answers read the rates
            for name, way in ways.items():
                service.held()
                met, others = waited(service, way)
                held = service.held()
                p99 = others[min(len(others) - 1, len(others) * 99 // 100)]
                sys.stdout.write(
                    f"{name:30} {met.status:4} {met.seconds:7.2f} s; others n={len(others):4} "
                    f"median {others[len(others) // 2]:6.1f} p99 {p99:7.1f} "
                    f"most {others[-1]:7.1f} ms; held {held:5.1f} ms {met.says[:150]}\n"
                )
                sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1:2] == ["other"]:
        be_the_other(int(sys.argv[2]))
    else:
        main()

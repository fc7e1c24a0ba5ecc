"""GET /metrics: how often and how fast the service answers, for all of its workers together.

Workers keep their counts in files of a folder that they share; whoever is asked adds them up.
"""

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from litestar import Response

from gramhour_service.http.front import Passed
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.wire import Asked, answered, media_type_wanted

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry, Counter, Histogram

FOLDER = "PROMETHEUS_MULTIPROC_DIR"
"""Where the library keeps the counts of each process; it reads it when it is imported."""
TEXT = "text/plain"
BUCKETS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 60)
UNKNOWN = "none"
"""Of a path that has no route: what callers invent makes no labels."""


class Metrics:
    """Counts requests by route, method and status, and how long they took by route."""

    def __init__(self) -> None:
        """Begin to count, in the folder that is named in the environment if one is."""
        from prometheus_client import (  # noqa: PLC0415 (it reads the environment)
            CollectorRegistry,
            Counter,
            Histogram,
            disable_created_metrics,
        )

        disable_created_metrics()  # type: ignore[no-untyped-call]

        self._own = CollectorRegistry()
        self._requests = Counter(
            "gramhour_requests",
            "Requests answered",
            ("method", "route", "status"),
            registry=self._own,
        )
        self._seconds = Histogram(
            "gramhour_request_seconds",
            "Seconds until a request was answered in full",
            ("route",),
            buckets=BUCKETS,
            registry=self._own,
        )

    def count(self, passed: Passed) -> None:
        """Count a request."""
        route = passed.route or UNKNOWN
        method = passed.method if passed.route else UNKNOWN
        requests, seconds = self._labelled(method, route, passed.status)
        requests.inc()
        seconds.observe(passed.seconds)

    @cache  # noqa: B019 (there is one for each worker, and there are few routes)
    def _labelled(self, method: str, route: str, status: int) -> tuple["Counter", "Histogram"]:
        """Find what counts these requests; the library looks for it under a lock each time."""
        return self._requests.labels(method, route, str(status)), self._seconds.labels(route)

    def written(self) -> bytes:
        """Write the counts of all workers as Prometheus' text."""
        from prometheus_client import generate_latest  # noqa: PLC0415

        return generate_latest(self._of_all())

    def _of_all(self) -> "CollectorRegistry":
        from prometheus_client import CollectorRegistry, multiprocess  # noqa: PLC0415

        if FOLDER not in os.environ:
            return self._own
        of_all = CollectorRegistry()
        multiprocess.MultiProcessCollector(of_all)  # type: ignore[no-untyped-call]
        return of_all


def share_counts(folder: Path) -> None:
    """Have the workers that are started from now on keep their counts in a folder."""
    folder.mkdir(mode=0o700)
    os.environ[FOLDER] = str(folder)


Written = Callable[[], bytes]


@serves(
    "GET",
    "/metrics",
    Operation(
        summary="Metrics",
        says="Requests answered and how long they took, of all workers, as Prometheus' text.",
        scope="operate",
        gives={TEXT: {"type": "string"}},
    ),
)
async def metrics(request: Asked) -> Response[bytes]:
    """Answer the metrics."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (TEXT,))
    written: Written = request.app.state.metrics
    return answered(request, written(), media_type, costs=True)

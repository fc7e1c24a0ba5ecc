"""What a running service is told when it starts."""

from dataclasses import dataclass
from pathlib import Path

MOST_BODY_BYTES = 10_000_000
MOST_FILE_BYTES = 64_000_000
MEASURED_AT_ONCE = 2
"""Files that a worker has measured at the same time; each may take a core and a GiB."""

QUOTES_A_MINUTE = 60


@dataclass(frozen=True, slots=True)
class Settings:
    """How a service is run.

    ``store`` may be missing: then only requests that bring their rates are answered.
    ``public_quotes`` lets callers without a key ask for prices, ``quotes_a_minute`` of each
    worker. ``cells_from`` are the names under which this machine's own cells reach the service
    (``127.0.0.1:8750``), empty when they may not. ``tells_worker`` adds a header that names the
    worker, for tests.
    """

    store: Path | None = None
    public_quotes: bool = False
    cells_from: frozenset[str] = frozenset()
    quotes_a_minute: int = QUOTES_A_MINUTE
    tells_worker: bool = False

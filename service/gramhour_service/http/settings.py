"""What a running service is told when it starts."""

from dataclasses import dataclass
from pathlib import Path

MOST_BODY_BYTES = 10_000_000
MOST_TOML_BYTES = 1_000_000
MOST_FORM_BYTES = 2_000_000
MOST_VALUES = 500_000
MOST_LISTS = 50_000
"""Of a JSON document: it is read in one go, for which all others would wait too long."""
MOST_FILE_BYTES = 64_000_000
MESH_TRIANGLES = 300_000
MEASURED_AT_ONCE = 2
"""Files that a worker has measured at the same time; each may take a core and a GiB."""

QUOTES_A_MINUTE = 60
PRICES_A_MINUTE = 6_000
WRONG_KEYS_A_MINUTE = 600
REQUESTS_AT_ONCE = 200
SECONDS_A_REQUEST = 60.0


@dataclass(frozen=True, slots=True)
class Settings:
    """How a service is run.

    ``store`` may be missing: then only requests that bring their rates are answered.
    ``public_quotes`` lets callers without a key ask for prices, ``quotes_a_minute`` of each
    address; a key that sees no costs may ask for ``prices_a_minute``, and an address show
    ``wrong_keys_a_minute``. Workers that are given ``counts``, a file, count together. A worker
    has ``requests_at_once`` under way and gives each ``seconds_a_request`` until its answer
    begins. A mesh has ``mesh_triangles`` at most. ``origins`` are those whose pages may ask from
    a browser. ``cells_from`` are the names under which this machine's own cells reach the service
    (``127.0.0.1:8750``), empty when they may not. ``writes_log`` writes a line for each request;
    ``tells_worker`` adds a header that names the worker, for tests.
    """

    store: Path | None = None
    public_quotes: bool = False
    cells_from: frozenset[str] = frozenset()
    quotes_a_minute: int = QUOTES_A_MINUTE
    prices_a_minute: int = PRICES_A_MINUTE
    wrong_keys_a_minute: int = WRONG_KEYS_A_MINUTE
    requests_at_once: int = REQUESTS_AT_ONCE
    seconds_a_request: float = SECONDS_A_REQUEST
    mesh_triangles: int = MESH_TRIANGLES
    origins: frozenset[str] = frozenset()
    counts: Path | None = None
    writes_log: bool = False
    tells_worker: bool = False

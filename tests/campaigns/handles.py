"""Takes a service all of its file handles by idle connections, and looks whether it goes on after.

``python -m tests.campaigns.handles [HANDLES]``: the service may hold so many (RLIMIT_NOFILE).
"""

import resource
import socket
import sys
import tempfile
import time
from contextlib import ExitStack, suppress
from pathlib import Path

from tests.http.door import HERE
from tests.server.running import QUOTE, demo_store, serving

USUAL = 64
SECONDS_HELD = 3


def main(handles: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        usual = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (handles, usual[1]))
        with serving(store, "--no-log", cuts_off=True) as service:
            resource.setrlimit(resource.RLIMIT_NOFILE, usual)
            with ExitStack() as idle:
                for _ in range(2 * handles):
                    with suppress(OSError):
                        idle.enter_context(socket.create_connection((HERE, service.port), 2))
                time.sleep(SECONDS_HELD)
                still_there = service.process.poll() is None
            time.sleep(1)
            answer = service.ask("POST", "/v1/quotes", "cost", body=QUOTE)
            saved = service.ask("GET", "/v1/rates", "cost")
    sys.stdout.write(
        f"{2 * handles} idle connections on {handles} handles: the process goes on: {still_there}; "
        f"after them a quote {answer.status}, the rates {saved.status}\n"
    )
    return not (still_there and answer.status == saved.status == 200)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if sys.argv[1:] else USUAL))

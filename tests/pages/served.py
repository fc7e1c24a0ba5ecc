"""The demo's shop on a port of this machine, as ``gramhour serve --public-quotes`` serves it.

Only the limit of callers without a key is higher: tests look more often than people do.
Arguments: the store. Prints its port when it listens.
"""

import sys
from pathlib import Path

from gramhour_service.http.running import listening_socket, run
from gramhour_service.http.settings import Settings


def main(store: str) -> None:
    listening = listening_socket("127.0.0.1", 0)
    sys.stdout.write(f"{listening.getsockname()[1]}\n")
    sys.stdout.flush()
    settings = Settings(store=Path(store), public_quotes=True, quotes_a_minute=1_000_000)
    run(settings, listening, workers=1, proxies=[])


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Run as a program: makes the stores named, each at its moment, and says how it went.

Told on standard input: the moment of the first one; the others follow at equal steps.
"""

import sys
import time
from pathlib import Path

from gramhour_service.store.opening import open_store
from gramhour_service.store.trouble import StoreTrouble

STEP = 0.012


def opened(path: Path) -> str:
    try:
        open_store(path, create=True).close()
    except StoreTrouble as trouble:
        return trouble.kind
    return "opened"


def main() -> None:
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    moment = float(sys.stdin.readline())
    for path in map(Path, sys.argv[1:]):
        while time.time() < moment:  # processes that sleep do not wake at the same moment
            pass
        sys.stdout.write(f"{opened(path)}\n")
        moment += STEP


if __name__ == "__main__":
    main()

"""``python -m gramhour_service.comparing STORE ID``: a run, in a process of its own."""

import os
import sys
from pathlib import Path

from gramhour_service.comparing.running import run

BEHIND_QUOTES = 10
"""Quotes go first."""

if __name__ == "__main__":
    os.nice(BEHIND_QUOTES)
    run(Path(sys.argv[1]), sys.argv[2])

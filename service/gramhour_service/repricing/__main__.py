"""``python -m gramhour_service.repricing STORE ID``: a run, in a process of its own."""

import os
import sys
from pathlib import Path

from gramhour_service.repricing.running import run
from gramhour_service.repricing.starting import processes

BEHIND_QUOTES = 10
"""Quotes go first."""

if __name__ == "__main__":
    os.nice(BEHIND_QUOTES)
    run(Path(sys.argv[1]), sys.argv[2], processes())

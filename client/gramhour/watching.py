"""How long to wait for a repricing or a large comparison, and when to look again at it.

The same for both clients.
"""

import time
from collections.abc import Callable, Generator
from typing import TypeAlias

from gramhour.contract.compared import ComparisonRun
from gramhour.contract.repricing import Repricing
from gramhour.errors import NotCompared, RepricingBrokenOff, RepricingFailed, StillRunning

Told: TypeAlias = Callable[[Repricing], object]
TEN_MINUTES = 600.0
FIRST_WAIT, LONGEST_WAIT, SLOWER = 0.1, 2.0, 1.5


def watched(within: float, told: Told | None) -> Generator[float, Repricing, Repricing]:
    """Be sent how a repricing is, and say after how many seconds to look again, until it is done.

    ``told`` hears each look. Raises ``NotFinished`` if it comes to nothing, or to nothing in time.
    """
    until, wait = time.monotonic() + within, 0.0
    while True:
        looked = yield wait
        if told is not None:
            told(looked)
        match looked.state:
            case "finished" | "applied":
                return looked
            case "failed":
                raise RepricingFailed(looked)
            case "broken_off":
                raise RepricingBrokenOff(looked)
        left = until - time.monotonic()
        if left <= 0:
            raise StillRunning(looked)
        wait = min(max(FIRST_WAIT, wait * SLOWER), LONGEST_WAIT, left)


def compared(within: float) -> Generator[float, ComparisonRun, None]:
    """Be sent how a comparison is, and say after how many seconds to look again.

    Raises ``NotCompared`` if it comes to nothing, or to nothing in time.
    """
    until, wait = time.monotonic() + within, 0.0
    while True:
        looked = yield wait
        left = until - time.monotonic()
        if looked.state in ("failed", "broken_off") or left <= 0:
            raise NotCompared(looked)
        wait = min(max(FIRST_WAIT, wait * SLOWER), LONGEST_WAIT, left)

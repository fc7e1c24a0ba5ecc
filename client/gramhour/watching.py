"""How long to wait for a repricing, and when to look at it again; the same for both clients."""

import time
from collections.abc import Callable, Generator
from typing import TypeAlias

from gramhour.contract.repricing import Repricing
from gramhour.errors import RepricingBrokenOff, RepricingFailed, StillRunning

Told: TypeAlias = Callable[[Repricing], object]
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

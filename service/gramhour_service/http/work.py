"""How much a quote request asks for, seen before it is read; what is much is computed in a thread.

A request of many pieces and quantities takes a while, and others are answered meanwhile. What is
too much for one batch is refused before any of it is computed.
"""

import asyncio
import sys
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any, TypeVar

from gramhour.contract.members import MOST_UNITS
from gramhour.contract.problem import Fault, Refused

T = TypeVar("T")

USUAL_QUANTITIES = 7
"""Of a request without breaks, whose sheet says which: about so many, with its own."""
PIECES_TOGETHER = 4
"""Pieces that take about as long as what a quantity takes besides."""
UNITS_OF_A_COVER = 2_000
"""Of a quantity that parts are bought for in packs, which takes longer the larger it is."""
NUMBERS = (int, Decimal)
MOST_AT_ONCE = 40
"""Of what is computed at once: some milliseconds, for which others wait."""
MOST_IN_A_BATCH = 10_000
SECONDS_A_TURN = 0.001
"""How long a thread computes until another one that wants to may go on."""


def work_of(sent: Any) -> int:
    """Say how many prices a request asks for, weighed by its pieces; of what is none, one."""
    if not isinstance(sent, dict):
        return 1
    breaks, product = sent.get("breaks"), sent.get("product")
    pieces = product.get("pieces") if isinstance(product, dict) else None
    quantities = 1 + len(breaks) if isinstance(breaks, list) else USUAL_QUANTITIES
    together = -(-len(pieces) // PIECES_TOGETHER) if isinstance(pieces, list) else 1
    return quantities * max(1, together) + _covers(sent, product)


def _covers(sent: dict[str, Any], product: Any) -> int:
    if not isinstance(product, dict) or not product.get("components"):
        return 0
    breaks = sent.get("breaks")
    asked = [sent.get("quantity"), *(breaks if isinstance(breaks, list) else ())]
    return sum(int(n) // UNITS_OF_A_COVER for n in asked if _can_be_a_quantity(n))


def _can_be_a_quantity(n: Any) -> bool:
    """Say so of no number that cannot be compared (TOML's nan) or would take minutes to count."""
    if not isinstance(n, NUMBERS) or (isinstance(n, Decimal) and not n.is_finite()):
        return False
    return 0 < n <= MOST_UNITS


def check_batch(sent: Iterable[Any], place: str) -> None:
    """Refuse a batch that asks for so much that it would take too long. Raises ``Refused``."""
    work = sum(map(work_of, sent))
    if work > MOST_IN_A_BATCH:
        detail = (
            f"asks for about {work} prices (four pieces count as one more), and a batch has at "
            f"most {MOST_IN_A_BATCH}; ask for fewer breaks, or in several batches"
        )
        raise Refused("invalid-request", (Fault(place, detail),))


async def computed(sent: Any, work: Callable[[], T], at_once: asyncio.Semaphore) -> T:
    """Do a request's work: a little here, much of it in a thread, one such at a time."""
    if work_of(sent) <= MOST_AT_ONCE:
        return work()
    async with at_once:
        return await asyncio.to_thread(work)


def take_turns() -> None:
    """Let threads take turns so often that nobody waits long."""
    sys.setswitchinterval(SECONDS_A_TURN)

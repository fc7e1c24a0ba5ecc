"""How often each piece is started, so that all its builds come out good with the promised chance.

N starts give at least k good builds with the chance that the k-th good one comes by the N-th
start: the binomial distribution's upper tail, added up start by start (exactly but for the 40th
digit).
"""

from decimal import Decimal
from functools import lru_cache
from heapq import heapify, heapreplace
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import NOISE_FREE, ONE
from gramhour_service.calculation.lead_time.terms import MOST_STARTS, CannotBeScheduled


class Batch(NamedTuple):
    """Builds of one piece: how many good ones, the chance of each start, how long it lasts."""

    builds: int
    chance: Decimal
    seconds: int


class Starts(NamedTuple):
    """Starts of each batch, and the chance that they are enough for all."""

    numbers: tuple[int, ...]
    probability: Decimal


class _Tried(NamedTuple):
    """A batch with so many starts: the chance that they are enough, and what one more adds."""

    starts: int
    enough: Decimal
    gain: Decimal


@lru_cache(maxsize=4096)
def starts_needed(batches: tuple[Batch, ...], promise: Decimal) -> Starts:
    """Each batch gets its builds; then the start that gains most per machine hour is added next.

    Until the product of the batches' chances reaches the promise, compared after 12 decimals. Of
    equal gains the batch named first has it. Raises ``CannotBeScheduled`` beyond ``MOST_STARTS``.
    """
    needed = sum(batch.builds for batch in batches)
    _refuse_beyond(needed)
    tried = [_at_first(batch) for batch in batches]
    product = ONE
    for each in tried:
        product *= each.enough
    ranked = [(_rank(b, t), n) for n, (b, t) in enumerate(zip(batches, tried, strict=True))]
    heapify(ranked)
    while product.quantize(NOISE_FREE) < promise:
        needed += 1
        _refuse_beyond(needed)
        n = ranked[0][1]
        before = tried[n]
        tried[n] = _one_more(batches[n], before)
        product = product * tried[n].enough / before.enough
        heapreplace(ranked, (_rank(batches[n], tried[n]), n))
    return Starts(tuple(each.starts for each in tried), product)


def _at_first(batch: Batch) -> _Tried:
    """As many starts as builds are enough only if all come out good."""
    enough = batch.chance**batch.builds
    return _Tried(batch.builds, enough, enough * batch.builds * (1 - batch.chance))


def _one_more(batch: Batch, tried: _Tried) -> _Tried:
    """One start more is enough where the last good build comes just then."""
    starts = tried.starts + 1
    fails = 1 - batch.chance
    next_gain = tried.gain * starts * fails / (starts + 1 - batch.builds)
    return _Tried(starts, tried.enough + tried.gain, next_gain)


def _rank(batch: Batch, tried: _Tried) -> Decimal:
    """Rank by the gain in the product per machine time, the largest first."""
    if not tried.gain:
        return ONE
    return -tried.gain / (tried.enough * batch.seconds) if batch.seconds else Decimal("-Infinity")


def _refuse_beyond(starts: int) -> None:
    if starts > MOST_STARTS:
        raise CannotBeScheduled(
            f"it takes more than {MOST_STARTS} starts of builds, and so many are not scheduled"
        )

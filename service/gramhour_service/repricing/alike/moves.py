"""By how much the prices of many listings move, as whole numbers: what ``moves.py`` says of one."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.repricing.alike.columns import Wholes
from gramhour_service.repricing.alike.many import Mask

MOST = 3_000_000_000
"""Two numbers up to it can be multiplied with each other."""
PER_CENT_OF_PER_CENT = 10_000


class Moves(NamedTuple):
    """What is told of the moves of each listing: in a word, and by how many hundredths of a
    per cent its price moves that moves most; and of whom nothing can be said here.
    """

    outcomes: list[str]
    change_pct: Wholes
    left: Mask


def all_new(size: int) -> Moves:
    """Say that so many listings had no price."""
    return Moves(["new"] * size, np.zeros(size, np.int64), np.zeros(size, np.bool_))


def moves_of_each(
    before: Wholes, now: Wholes, nets_before: Wholes, nets_now: Wholes, worth_making: Wholes
) -> Moves:
    """Compare shown prices of each break (a row) of each listing, and where none moves the nets.

    What would move by less than is worth making stays. What was nothing, or is too large, is left.
    """
    left = _not_between(before) | _not_between(now)
    by = now - before
    moves = (by != 0).any(axis=0)
    small = (np.abs(by) < worth_making).all(axis=0)
    nets_by = nets_now - nets_before
    left |= ~moves & (_not_between(nets_before) | _not_between(nets_now))
    largest = np.where(
        moves,
        _at(by, _largest(by, before, larger_amount_first=True)),
        _at(nets_by, _largest(nets_by, nets_before, larger_amount_first=True)),
    )
    largest[moves & small] = 0
    at = _largest(by, before, larger_amount_first=False)
    change = _half_even(_at(by, at) * PER_CENT_OF_PER_CENT, np.maximum(_at(before, at), 1))
    words = np.array(["down", "unchanged", "up"])
    return Moves(words[np.sign(largest) + 1].tolist(), change, left)


def _not_between(numbers: Wholes) -> Mask:
    """Say whose numbers are not all above nothing and small enough."""
    mask: Mask = np.any((numbers <= 0) | (numbers > MOST), axis=0)
    return mask


def _largest(by: Wholes, before: Wholes, *, larger_amount_first: bool) -> NDArray[np.intp]:
    """Say at which break each moves by the largest share of what was before; at the first of
    several, or at that of them with the larger amount.
    """
    found = np.zeros(by.shape[1], np.intp)
    for n in range(1, len(by)):
        most, here = np.abs(_at(by, found)), np.abs(by[n])
        share, before_it = here * _at(before, found), most * before[n]
        larger = share > before_it
        if larger_amount_first:
            larger |= (share == before_it) & (here > most)
        found[larger] = n
    return found


def _at(numbers: Wholes, rows: NDArray[np.intp]) -> Wholes:
    """Take one number of each listing."""
    taken: Wholes = numbers[rows, np.arange(numbers.shape[1])]
    return taken


def _half_even(dividend: Wholes, divisor: Wholes) -> Wholes:
    """Divide, rounding half even; beside ties nothing is within 12 decimals of one."""
    whole, rest = np.divmod(dividend, divisor)
    up = (2 * rest > divisor) | ((2 * rest == divisor) & (whole % 2 == 1))
    rounded: Wholes = whole + up
    return rounded

"""Sizes that are probably in another unit: what no desktop printer does is told, never refused.

The limits are common practice, no source: spools for desktop printers hold up to 10 kg, hardly a
build runs for a fortnight, a large nozzle with a long melt zone melts some 110 mm³/s (500 g of PLA
an hour), and none is kept busy with less than a tenth of a gram an hour. A mistaken unit (kg, mg,
hours, seconds) is off by 60 or 1,000, and passes them. What is told by one number is in ``usual``,
by two prices in ``relative``.
"""

from collections.abc import Iterator
from decimal import Decimal

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.job import Piece, Product

MOST_G = 10_000
MOST_MIN = 14 * 24 * 60
MOST_G_AN_HOUR, LEAST_G_AN_HOUR = 500, Decimal("0.1")
MOST_W, LEAST_W = 5_000, 1


def unlikely_sizes(product: Product) -> Iterator[str]:
    """Say of each piece what is probably in another unit."""
    for piece in product.pieces:
        yield from _build(piece)
        yield from _power(piece)


def _build(piece: Piece) -> Iterator[str]:
    grams, minutes = sum([feed.grams for feed in piece.feeds], ZERO), piece.print_min
    if grams > MOST_G:
        yield (
            f"A full build of piece {piece.number} takes {rounded(grams)} g, more than the largest "
            f"spools hold ({MOST_G} g). Check that these are grams, and of one build."
        )
    if minutes > MOST_MIN:
        yield (
            f"A full build of piece {piece.number} prints for {rounded(minutes)} min, longer than "
            f"a fortnight ({MOST_MIN} min). Check that these are minutes, and of one build."
        )
    if not grams or not minutes or grams > MOST_G or minutes > MOST_MIN:
        return
    an_hour = grams * 60 / minutes
    what = f"{rounded(grams)} g in {rounded(minutes)} min of piece {piece.number}"
    check = "Check that these are grams and minutes, and both of one full build."
    if an_hour > MOST_G_AN_HOUR:
        yield (
            f"{what} are {rounded(an_hour)} g an hour, more than a filament nozzle melts "
            f"({MOST_G_AN_HOUR} g). {check}"
        )
    if an_hour < LEAST_G_AN_HOUR:
        yield f"{what} are less than {LEAST_G_AN_HOUR} g an hour, as no printer works. {check}"


def _power(piece: Piece) -> Iterator[str]:
    watts = piece.power_w
    if watts > MOST_W or 0 < watts < LEAST_W:
        yield (
            f"Piece {piece.number} prints with {rounded(watts)} W, where desktop printers draw "
            f"{LEAST_W} to {MOST_W} W. Check that power_w is in watts."
        )


def rounded(amount: Decimal) -> str:
    """Write an amount with as many decimals as tell it."""
    text = f"{Decimal(f'{amount:.3g}'):f}" if amount < 1 else f"{amount:.1f}"
    return text.rstrip("0").rstrip(".")

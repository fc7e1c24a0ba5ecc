"""Wear of nozzles."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation.arithmetic import ZERO, as_line
from gramhour_service.calculation.job import Feed, Nozzle
from gramhour_service.calculation.rules import rule


@rule
def wear_per_gram(price: Decimal, life_kg: Decimal | None) -> Decimal:
    """A nozzle is worn down evenly over its life; without a life it does not wear."""
    return ZERO if life_kg is None else price / (life_kg * 1000)


@rule
def wear_by_material(wear_per_g: Decimal, abrasion: Decimal) -> Decimal:
    """An abrasive material wears a nozzle by its factor faster."""
    return wear_per_g * abrasion


@rule
def nozzle_wear_of_build(
    nozzle: Nozzle | None, feeds: Sequence[Feed], grams: Sequence[Decimal]
) -> Decimal:
    """A build wears its nozzle by the grams of each feed; without a nozzle there is no wear."""
    if nozzle is None:
        return ZERO
    return sum(
        [
            m * wear_by_material(nozzle.wear_per_g, feed.material.abrasion)
            for feed, m in zip(feeds, grams, strict=True)
        ],
        ZERO,
    )


@rule
def nozzle_wear_line(worn: Decimal) -> Decimal:
    """Nozzle wear: the grams of all builds at what a gram wears off the nozzle."""
    return as_line(worn)

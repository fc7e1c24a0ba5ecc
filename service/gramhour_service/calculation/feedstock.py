"""Feedstock: from a description to grams, from an offer to the price of a gram, to the line."""

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from gramhour_service.calculation.arithmetic import ZERO, as_line, ceiling, half_even
from gramhour_service.calculation.job import Feed, Material, Pack
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import Operand, Worked, called, computed, followed

if TYPE_CHECKING:
    from gramhour_service.calculation.builds import BuildPlan


@rule
def filament_area(diameter_mm: Decimal) -> Decimal:
    """The cross-section of a filament is π/4 of its diameter squared, in mm², to 6 decimals."""
    area = Decimal(repr(math.pi / 4 * float(diameter_mm) ** 2))
    return followed(half_even(computed(area, "pi / 4 * {}^2", diameter_mm), 6))


@rule
def grams_of_volume(volume_cm3: Decimal, density_g_cm3: Decimal) -> Decimal:
    """Grams are the volume times the density."""
    return volume_cm3 * density_g_cm3


@rule
def grams_of_length(length_m: Decimal, area_mm2: Decimal, density_g_cm3: Decimal) -> Decimal:
    """Grams are the length times the cross-section times the density (m · mm² is cm³)."""
    return length_m * area_mm2 * density_g_cm3


@rule
def tier_discount(tiers: Sequence[tuple[int, Decimal]], usual_packs: int) -> Decimal:
    """The discount is the largest one that is open at the shop's usual number of packs.

    ``tiers`` are (from_packs, share of one); 0 if none is open.
    """
    return max((share for from_packs, share in tiers if from_packs <= usual_packs), default=ZERO)


@rule
def price_after_tier(list_price: Decimal, tier_share: Decimal) -> Decimal:
    """The tier's discount comes off the list price."""
    return list_price * (1 - tier_share)


@rule
def price_after_rebate(price: Decimal, rebate_share: Decimal) -> Decimal:
    """The rebate, a credit on a later purchase, comes off what the tier leaves."""
    return price * (1 - rebate_share)


@rule
def shipping_per_pack(shipping: Decimal, free_from_packs: int | None, usual_packs: int) -> Decimal:
    """A pack bears its share of the usual purchase's shipping; from the threshold on it is free."""
    if free_from_packs is not None and usual_packs >= free_from_packs:
        return ZERO
    return shipping / usual_packs


@rule
def usable_grams(pack_g: Decimal, tail_g: Decimal) -> Decimal:
    """What is left on the spool is thrown away: a pack gives its grams less the tail."""
    return pack_g - tail_g


@rule
def price_per_gram(pack: Pack) -> Decimal:
    """A gram costs what the pack costs, over the grams that can be used of it."""
    return pack.cost / pack.usable_g


@rule
def feedstock_of_build(feeds: Sequence[Feed], grams: Sequence[Decimal]) -> Decimal:
    """A build's feedstock is the grams of each feed times the price of a gram."""
    return sum([m * f.material.price_per_g for f, m in zip(feeds, grams, strict=True)], ZERO)


class PacksBought(NamedTuple):
    """A material bought for the order in whole packs, and what that costs beyond consumption."""

    material: Material
    packs: int
    price: Decimal
    left_over_g: Decimal
    addition: Decimal


@rule
def packs_for(grams: Decimal, usable_g: Decimal) -> int:
    """Bought for the order, a material comes in whole packs, at least one if any grams."""
    return max(1, ceiling(grams / usable_g)) if grams else 0


@rule
def whole_pack_addition(
    grams: Decimal, packs: Operand, pack: Pack, price_per_g: Decimal
) -> Decimal:
    """Whole packs add what they cost beyond the grams used at the price of a gram, not below 0."""
    beyond = packs * pack.cost - grams * price_per_g
    return beyond if beyond > 0 else ZERO


@rule
def whole_pack_materials(plans: Sequence["BuildPlan"]) -> dict[str, Material]:
    """A material that one feed of the order charges by whole packs is charged so for all of it."""
    return {
        feed.material.code: feed.material
        for plan in plans
        for piece in plan.made.product.pieces
        for feed in piece.feeds
        if feed.whole_packs
    }


def packs_bought(
    materials: Mapping[str, Material], grams_used: Mapping[str, Decimal]
) -> tuple[PacksBought, ...]:
    """Buy materials in whole packs. ``grams_used`` has failures and rejects in it."""
    bought = []
    for code, material in materials.items():
        pack, grams = material.pack, grams_used[code]
        assert pack is not None, "resolve lets whole packs through only with an offer"
        packs = packs_for(grams, pack.usable_g)
        if not packs:
            continue
        told = _told_packs(packs, grams, pack, code)
        addition = whole_pack_addition(grams, told, pack, material.price_per_g)
        left_over = max(ZERO, packs * pack.usable_g - grams)
        bought.append(PacksBought(material, packs, packs * pack.cost, left_over, addition))
    return tuple(bought)


def _told_packs(packs: int, grams: Decimal, pack: Pack, code: str) -> Operand:
    """Let an explanation hear what a number of packs was found of."""
    if not isinstance(grams, Worked):
        return packs
    found = computed(Decimal(packs), "max(1, ceil(round({}, 6)))", grams / pack.usable_g)
    return called(found, "packs_of", code)


@rule
def feedstock_line(consumed: Decimal, bought: Sequence[PacksBought]) -> Decimal:
    """Feedstock: the grams of all builds times the price of a gram, plus what whole packs add."""
    return as_line(consumed + sum([b.addition for b in bought]))

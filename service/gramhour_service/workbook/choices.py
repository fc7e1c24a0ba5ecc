"""The rules of making that compare and count, as formulas that keep all their ways open.

A rule is called by its name here in place of the calculation's. Its value is the one that the
calculation's own rule gives.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal

from gramhour_service.calculation import (
    failures,
    feedstock,
    learning,
)
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.feedstock import PacksBought
from gramhour_service.calculation.job import Material, Pack
from gramhour_service.workbook.figures import (
    Figure,
    formula,
    in_its_cell,
    named,
    plain,
    rely,
)
from gramhour_service.workbook.roundings import ceiling, half_even

MOST_LEARNING = 10_000


def largest(text: str, amounts: Sequence[Decimal], value: Decimal) -> Figure:
    """Write a choice among amounts, such as MAX."""
    holders = ";".join(f"{{{n}}}" for n in range(len(amounts)))
    return formula(f"{text}({holders})", value, *amounts)


# feedstock


def filament_area(diameter_mm: Decimal) -> Decimal:
    """Compute π/4 · d²."""
    area = feedstock.filament_area(plain(diameter_mm))
    return half_even(formula("PI()/4*{0}^2", area, diameter_mm), 6)


def tier_discount(tiers: Sequence[tuple[Decimal, Decimal]], usual_packs: Decimal) -> Decimal:
    """Take the largest discount of the open tiers."""
    if not tiers:
        return ZERO
    value = feedstock.tier_discount(plain(tiers), plain(usual_packs))
    usual = plain(usual_packs)
    open_ones = [
        formula(
            "IF({0}<={1};{2};0)", plain(share) * (start_now <= usual), start, usual_packs, share
        )
        for (start, share), (start_now, _) in zip(tiers, plain(tiers), strict=True)
    ]
    return largest("MAX", open_ones, value)


def shipping_per_pack(
    shipping: Decimal, free_from_packs: Decimal | None, usual_packs: Decimal
) -> Decimal:
    """Share the shipping, or none from the threshold on."""
    shared = shipping / usual_packs
    if free_from_packs is None:
        return shared
    value = feedstock.shipping_per_pack(plain(shipping), plain(free_from_packs), plain(usual_packs))
    return formula("IF({0}>={1};0;{2})", value, usual_packs, free_from_packs, shared)


def usable_grams(pack_g: Decimal, tail_g: Decimal) -> Decimal:
    """Take the tail off; something must be left, or a sheet is refused."""
    left = pack_g - tail_g
    rely(">", left, 0, outcome=True)
    return left


def packs_for(grams: Decimal, usable_g: Decimal) -> Decimal:
    """Count whole packs."""
    value = Decimal(feedstock.packs_for(plain(grams), plain(usable_g)))
    return formula("IF({0}=0;0;MAX(1;{1}))", value, grams, ceiling(grams / usable_g))


def whole_pack_addition(
    grams: Decimal, packs: Decimal, pack: Pack, price_per_g: Decimal
) -> Decimal:
    """Add what whole packs cost beyond the grams."""
    beyond = packs * pack.cost - grams * price_per_g
    return formula("MAX(0;{0})", max(ZERO, plain(beyond)), beyond)


def packs_bought(
    materials: dict[str, Material], grams_used: dict[str, Decimal]
) -> tuple[PacksBought, ...]:
    """Buy materials in whole packs."""
    bought = []
    for code, material in materials.items():
        pack, grams = material.pack, grams_used[code]
        assert pack is not None, "resolve lets whole packs through only with an offer"
        grams = in_its_cell(grams, f"grams of {code}")
        packs = named(packs_for(grams, pack.usable_g), f"packs of {code}")
        addition = whole_pack_addition(grams, packs, pack, material.price_per_g)
        held = packs * pack.usable_g
        left_over = formula("MAX(0;{0}-{1})", max(ZERO, plain(held) - plain(grams)), held, grams)
        bought.append(PacksBought(material, packs, packs * pack.cost, left_over, addition))
    return tuple(bought)


# failures


def largest_failure_factor(factors: Iterable[Decimal]) -> Decimal:
    """Take the largest factor."""
    listed = list(factors)
    return largest("MAX", listed, failures.largest_failure_factor(plain(listed)))


def chance_by_hours(expected: Decimal, start_share: Decimal) -> Decimal:
    """Compute y · e^(−x)."""
    value = failures.chance_by_hours(plain(expected), plain(start_share))
    return formula("ROUND({0}*EXP(-{1});12)", value, start_share, expected)


def wasted_by_hours(expected: Decimal) -> Decimal:
    """Compute (e^x − 1)/x − 1; for small x by its series, where binary would lose digits."""
    expected = in_its_cell(expected, "failures expected")
    value = failures.wasted_by_hours(plain(expected))
    return formula(
        "ROUND(IF({0}<0.001;{0}/2+{0}^2/6+{0}^3/24;(EXP({0})-1)/{0}-1);12)", value, expected
    )


def failed_starts(chance: Decimal) -> Decimal:
    """Compute 1/p − 1."""
    value = failures.failed_starts(plain(chance))
    return formula("1/{0}-1", value, chance) if isinstance(chance, Figure) else value


# labour


def learning_factor(
    quantity: Decimal, learning_pct: Decimal, learning_until: Decimal, made_before: Decimal
) -> Decimal:
    """Add up unit times along the curve, in first-unit times."""
    value = learning.learning_factor(
        int(plain(quantity)),
        plain(learning_pct),
        int(plain(learning_until)),
        int(plain(made_before)),
    )
    at_the_end = formula(
        "MIN({0};MAX(0;{1}+{0}-{2}))",
        learning.times_at_the_end(
            int(plain(quantity)), int(plain(made_before)), int(plain(learning_until))
        ),
        quantity,
        made_before,
        learning_until,
    )
    at_the_end = named(at_the_end, "units that learn no more")
    exponent = named(
        formula(
            "LN({0}/100)/LN(2)",
            Decimal(repr(learning.learning_exponent(plain(learning_pct)))),
            learning_pct,
        ),
        "learning exponent",
    )
    units = f"ROW([.$A$1:.$A${MOST_LEARNING}])"
    total = formula(
        f"IF({{0}}=100;{{1}};SUMPRODUCT({units}^{{2}}*({units}>{{3}})*({units}<={{3}}+{{1}}-{{4}}))"
        "+{4}*{5}^{2})",
        value,
        learning_pct,
        quantity,
        exponent,
        made_before,
        at_the_end,
        learning_until,
    )
    return half_even(total, 6)


def depreciation_per_year(
    replacement_price: Decimal, residual_value: Decimal, life_years: Decimal
) -> Decimal:
    """Spread the loss; a residual value above the price is refused of a sheet."""
    rely("<=", residual_value, replacement_price, outcome=True)
    return (replacement_price - residual_value) / life_years

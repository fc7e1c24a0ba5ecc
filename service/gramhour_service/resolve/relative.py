"""Prices of a sheet that are hardly meant beside each other, in whatever currency.

What one price may be depends on the currency; what it comes to in another one hardly does. The
limits are common practice, no source: a kilowatt hour costs a few hundredths of a kilogram of
filament, an hour of people's work some 10 to 300 kilowatt hours, and the dearest filaments for
desktop printers 20 to 40 times the plain ones. A price by the gram or by the minute, or in cents,
is off by 60, 100 or 1,000, and passes them.
"""

from collections.abc import Collection, Iterable, Iterator
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.material import Material
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.sizes import rounded

MOST_G_A_KWH = 200
LEAST_KWH_AN_HOUR = 3
MOST_TIMES_THE_MIDDLE = 60

Key = tuple[str, str]
LABOUR, ENERGY = ("shop", "labour_rate_per_hour"), ("shop", "price_per_kwh")
OF_A_SHOP = frozenset({LABOUR, ENERGY})
"""What every quote uses."""


class Doubt(NamedTuple):
    """What is said of prices that hardly stand together, and which rates it is of."""

    of: frozenset[Key]
    says: str


def doubtful_prices(sheet: RateSheet) -> tuple[Doubt, ...]:
    """Say which prices hardly stand together; what costs nothing is not compared."""
    prices = _filaments(sheet)
    middle = prices[(len(prices) - 1) // 2] if prices else None
    return (*_of_the_shop(sheet, middle), *_of_filaments(prices))


def said_of(doubts: Iterable[Doubt], rates: Collection[Key]) -> Iterator[str]:
    """Say what is doubted of any of these rates."""
    return (doubt.says for doubt in doubts if not doubt.of.isdisjoint(rates))


def _filaments(sheet: RateSheet) -> list[tuple[Decimal, str]]:
    """List what a kilogram of each filament costs, the cheapest first."""
    materials = {} if sheet.materials is UNSET else sheet.materials
    priced = ((_price_per_kg(material), code) for code, material in materials.items())
    return sorted(each for each in priced if each[0])


def _price_per_kg(material: Material) -> Decimal:
    """Say what a kilogram costs, before any discount and shipping."""
    if material.offer is UNSET:
        return Decimal(0) if material.price_per_kg is UNSET else material.price_per_kg
    return material.offer.list_price * 1000 / material.offer.pack_g


def _of_the_shop(sheet: RateSheet, middle: tuple[Decimal, str] | None) -> Iterator[Doubt]:
    """Say it of a kilowatt hour beside filament; else of an hour of work beside that."""
    labour, energy = sheet.labour_rate_per_hour, sheet.price_per_kwh
    if middle is not None and MOST_G_A_KWH * middle[0] < 1000 * energy:
        yield Doubt(
            frozenset({ENERGY, ("materials", middle[1])}),
            f"A kilowatt hour costs {rounded(energy)} and a kilogram of {middle[1]} "
            f"{rounded(middle[0])}: more than {MOST_G_A_KWH} g of it, where 5 to 50 g are common. "
            "Check that price_per_kwh is in the sheet's currency, not in cents, and the "
            "filament's price that of a kilogram.",
        )
    elif 0 < labour < LEAST_KWH_AN_HOUR * energy:
        yield Doubt(
            OF_A_SHOP,
            f"An hour of work costs {rounded(labour)} and a kilowatt hour {rounded(energy)}: less "
            f"than {LEAST_KWH_AN_HOUR} kWh, where 10 to 300 are common. Check that "
            "labour_rate_per_hour is for an hour, not a minute, and price_per_kwh not in cents.",
        )


def _of_filaments(prices: list[tuple[Decimal, str]]) -> Iterator[Doubt]:
    """Say it of filaments far from the middle one; of two, either may be the slip."""
    middle, usual = prices[(len(prices) - 1) // 2] if prices else (Decimal(0), "")
    for price, code in prices:
        if middle <= MOST_TIMES_THE_MIDDLE * price and price <= MOST_TIMES_THE_MIDDLE * middle:
            continue
        either = {("materials", usual)} if len(prices) == 2 else set[Key]()  # noqa: PLR2004
        yield Doubt(
            frozenset({("materials", code), *either}),
            f"A kilogram of {code} costs {rounded(price)} and one of {usual} {rounded(middle)}: "
            f"more than {MOST_TIMES_THE_MIDDLE} times apart. Check that both are for a kilogram "
            "(an offer for a pack of pack_g), not for a gram, and not in cents.",
        )

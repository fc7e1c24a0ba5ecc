"""Numbers that hardly any shop means as they stand: percentages sent as fractions, mixed up units.

They are told to the shop, never refused. Every limit is common practice, no source, and lies
beyond what a small shop has for good reasons: a payment fee of 0.9 % passes, one of 0.029 % does
not, for it is 2.9 % sent as a fraction.
"""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

from msgspec import UNSET, Struct, UnsetType, json

from gramhour.contract.channel import Aim, Channel, MarginBreak
from gramhour.contract.component import Component
from gramhour.contract.listing import Listing
from gramhour.contract.machine import Machine, Nozzle
from gramhour.contract.material import FeedstockOffer, Material, Tier
from gramhour.contract.product import DesignFee, Piece, Product
from gramhour.contract.profile import Profile
from gramhour.contract.rates import KINDS, RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour.contract.service import Service
from gramhour.contract.work import Work
from gramhour_service.resolve.relative import doubtful_prices

TWO_WORKDAYS_MIN = 2 * 8 * 60
LEAP_YEAR_H = 366 * 24


class Usual(NamedTuple):
    """What a member usually is, and what to look at where it is not; ``least`` lets 0 pass."""

    member: str
    least: Decimal
    most: int
    unit: str
    check: str


def percent(member: str, least: str, most: int = 1_000_000_000) -> Usual:
    """Expect a percentage of at least so much: what is less is probably sent as a fraction."""
    return Usual(member, Decimal(least), most, "%", "Check that this is per cent.")


def at_most(member: str, most: int, unit: str, check: str, *, least: int | str = 0) -> Usual:
    """Expect no more than so much."""
    return Usual(member, Decimal(least), most, unit, check)


USUAL: dict[type[Struct], tuple[Usual, ...]] = {
    RateSheet: (
        percent("material_overhead_pct", "0.5"),
        percent("production_overhead_pct", "0.5"),
        percent("admin_overhead_pct", "0.5"),
    ),
    Channel: (
        percent("tax_rate_pct", "1", most=50),
        percent("fee_pct", "0.5", most=60),
        percent("payment_pct", "0.1", most=20),
        percent("margin_floor_pct", "1"),
        percent("promise_pct", "2", most=100),
    ),
    Aim: (percent("margin_pct", "1"), percent("markup_pct", "3")),
    MarginBreak: (percent("margin_pct", "1"),),
    Material: (
        percent("first_pass_yield_pct", "2", most=100),
        at_most("density_g_cm3", 10, "g/cm³", "Check that these are g/cm³.", least="0.2"),
        at_most("diameter_mm", 4, "mm", "Check that these are mm, of filament.", least=1),
    ),
    FeedstockOffer: (
        at_most("pack_g", 50_000, "g", "Check that these are grams, and of one pack.", least=10),
        percent("rebate_pct", "0.1"),
    ),
    Tier: (percent("discount_pct", "0.5"),),
    Machine: (
        percent("interest_pct", "0.25"),
        percent("first_pass_yield_pct", "2", most=100),
        percent("start_yield_pct", "2", most=100),
        percent("loss_at_failure_pct", "1"),
        at_most(
            "hours_per_year", LEAP_YEAR_H, "h", "Check that they are a printer's, a year.", least=24
        ),
        at_most("warm_up_min", 240, "min", "Check that these are minutes."),
        at_most("warm_up_kwh", 5, "kWh", "Check that these are kWh, not Wh."),
        at_most("life_years", 15, "years", "Check that these are years, not months."),
        at_most(
            "hours_between_failures",
            100_000,
            "h",
            "Check that these are printing hours, from one failure to the next.",
            least=4,
        ),
    ),
    Nozzle: (
        at_most("diameter_mm", 3, "mm", "Check that these are mm, of its bore.", least="0.1"),
        at_most("life_kg", 2_000, "kg", "Check that these are kilograms, not grams."),
        at_most("change_min", 240, "min", "Check that these are minutes."),
    ),
    Component: (percent("spare_pct", "0.1"),),
    Service: (percent("reject_pct", "0.1"),),
    Profile: (
        percent("fill_pct", "2", most=100),
        at_most("layer_mm", 2, "mm", "Check that these are mm, of one layer.", least="0.02"),
    ),
    Product: (percent("reject_pct", "0.1"),),
    Listing: (percent("margin_floor_pct", "1"),),
    Piece: (
        percent("first_pass_yield_pct", "2", most=100),
        at_most("pieces_per_build", 1_000, "pieces", "Check that one plate holds so many."),
        at_most("count", 1_000, "pieces", "Check that one unit has so many."),
    ),
    Work: (
        at_most("order_min", TWO_WORKDAYS_MIN, "min", "Check that these are minutes, an order."),
        at_most("build_min", 240, "min", "Check that these are people's minutes, a build."),
        at_most("unit_min", TWO_WORKDAYS_MIN, "min", "Check that these are minutes, a unit."),
    ),
    DesignFee: (percent("share_pct", "0.5"),),
    QuoteRequest: (percent("discount_pct", "0.5"),),
}

PARTS: dict[type[Struct], tuple[str, ...]] = {
    Channel: ("aim", "margin_breaks"),
    Material: ("offer",),
    FeedstockOffer: ("tiers",),
    Service: ("work",),
    Listing: ("aim",),
    Product: ("pieces", "work", "design_fee"),
    QuoteRequest: ("aim",),
}
"""Where they have parts that are looked at too."""


def unusual(struct: Struct, whose: str, within: str = "") -> Iterator[str]:
    """Say of each number that is hardly meant what was read, what is common, and the remedy."""
    expected, parts = _looked_at(type(struct))
    for usual in expected:
        value = getattr(struct, usual.member)
        if value is not UNSET and _is_unusual(value, usual):
            yield f"{whose}: {usual.member}{within} is {_told(value, usual)}"
    for name in parts:
        for called, part in _named(name, getattr(struct, name)):
            yield from unusual(part, whose, f" of {called}{within}")


def unusual_product(product: Product, whose: str) -> Iterator[str]:
    """Say it of a product; also that nothing in it costs anything, as when all of it is missing."""
    yield from unusual(product, whose)
    if not (product.pieces or product.components or _is_any(product.work, product.design_fee)):
        yield (
            f"{whose}: there are no pieces, components, work minutes or design_fee in it, so only "
            "the channel's costs make its price. Check that none is missing."
        )


def unusual_in_sheet(sheet: RateSheet) -> Iterator[str]:
    """Say it of a whole sheet: of what is sheet-wide, of prices together, of each rate by code."""
    yield from unusual(sheet, "Shop")
    yield from (doubt.says for doubt in doubtful_prices(sheet))
    for kind in KINDS:
        rates = getattr(sheet, kind)
        for code, rate in () if rates is UNSET else rates.items():
            yield from unusual_in_rate(kind, code, rate)


def unusual_in_rate(kind: str, code: str, rate: Struct) -> Iterator[str]:
    """Say it of a rate that has a code."""
    return unusual(rate, f"{kind.removesuffix('s').capitalize()} {code}")


OF_KIND: dict[str, type[Struct]] = {
    "materials": Material,
    "nozzles": Nozzle,
    "machines": Machine,
    "components": Component,
    "channels": Channel,
    "profiles": Profile,
    "services": Service,
}


def unusual_in_stored(kind: str, code: str, value: str) -> Iterator[str]:
    """Say it of a sound rate as it is stored, as JSON; of what is sheet-wide, under its name."""
    if kind in OF_KIND:
        return unusual_in_rate(kind, code, json.decode(value, type=OF_KIND[kind]))
    return (
        f"Shop: {code} is {_told(number, usual)}"
        for usual in USUAL[RateSheet]
        if usual.member == code and _is_unusual(number := json.decode(value, type=Decimal), usual)
    )


@cache
def _looked_at(kind: type[Struct]) -> tuple[tuple[Usual, ...], tuple[str, ...]]:
    """Find what is looked at in a type of the contract, or in the one that it adds members to."""
    known = next(each for each in kind.__mro__ if each in USUAL)
    return USUAL[known], PARTS.get(known, ())


def _named(name: str, part: Any) -> Iterable[tuple[str, Struct]]:
    """Name a part, or each of a list of them by its number."""
    if part is UNSET:
        return ()
    if isinstance(part, list):
        return ((f"{name.removesuffix('s')} {n}", each) for n, each in enumerate(part, start=1))
    return ((name, part),)


def _is_any(work: Work | UnsetType, fee: DesignFee | UnsetType) -> bool:
    """Say whether there are any minutes or is any fee."""
    minutes = () if work is UNSET else (work.order_min, work.build_min, work.unit_min)
    fees = () if fee is UNSET else (fee.per_unit, fee.one_off, fee.share_pct)
    return any(each for each in (*minutes, *fees))


def _is_unusual(value: Decimal, usual: Usual) -> bool:
    return 0 < value < usual.least or value > usual.most


def _told(value: Decimal, usual: Usual) -> str:
    if value > usual.most:
        return f"{Decimal(value):f} {usual.unit}; up to {usual.most} is common. {usual.check}"
    told = f"{value:f} {usual.unit}; {usual.least} {usual.unit} or more is common."
    if usual.unit != "%" or value * 100 > usual.most:  # no fraction of what is common either
        return f"{told} {usual.check}"
    meant = f"{(value * 100).normalize():f}"
    return f"{told} If {meant} % is meant, write {meant}."

"""What a quote is computed from: plain frozen values, every code resolved and every unit known.

Grams, minutes, money and shares, nothing to look up. Shares are of one (98 % is 0.98) where
the name says share, per cent where it says pct.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

Offers = tuple["PackOffer", ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack of filament as the shop usually buys it: what it costs, what of it can be used."""

    pack_g: Decimal
    usable_g: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Material:
    """A filament: money a gram, how it fails and wears. ``pack`` only where it has an offer."""

    code: str
    price_per_g: Decimal
    pack: Pack | None
    yield_share: Decimal
    failure_factor: Decimal
    abrasion: Decimal


@dataclass(frozen=True, slots=True)
class Nozzle:
    """A nozzle: money a gram worn off it (before abrasion), minutes to change it."""

    code: str
    wear_per_g: Decimal
    change_min: Decimal


@dataclass(frozen=True, slots=True)
class YieldForm:
    """Failures as a share of starts, and how far a failed build has come."""

    yield_share: Decimal
    loss_share: Decimal


@dataclass(frozen=True, slots=True)
class HoursForm:
    """Failures as mean hours between them, and the share of starts that hold."""

    hours_between_failures: Decimal
    start_share: Decimal


@dataclass(frozen=True, slots=True)
class Machine:
    """A printer: money an hour, warm-up, how it fails. ``usual_nozzle`` is a code or nothing."""

    code: str
    rate_per_hour: Decimal
    warm_up_min: Decimal
    warm_up_kwh: Decimal
    usual_nozzle: str | None
    failures: YieldForm | HoursForm


@dataclass(frozen=True, slots=True)
class Feed:
    """Grams of one filament in one full build of a piece."""

    material: Material
    grams: Decimal
    per_build_g: Decimal
    whole_packs: bool


@dataclass(frozen=True, slots=True)
class Piece:
    """A printed piece: what one full build of it takes. ``number`` counts from 1."""

    number: int
    machine: Machine
    nozzle: Nozzle | None
    feeds: tuple[Feed, ...]
    print_min: Decimal
    per_build_min: Decimal
    pieces_per_build: int
    count: int
    power_w: Decimal
    own_yield_share: Decimal | None


class PackOffer(NamedTuple):
    """A pack of a bought-in part: its size, its price, and from how many packs that holds."""

    pack_quantity: int
    price: Decimal
    from_packs: int


@dataclass(frozen=True, slots=True)
class Component:
    """A bought-in part. ``stock_price`` is money a piece, None if it is bought for the order."""

    code: str
    offers: Offers
    shipping_per_purchase: Decimal
    spare_share: Decimal
    stock_price: Decimal | None
    counted_in_pieces: bool


@dataclass(frozen=True, slots=True)
class Need:
    """How much of a component is needed, for each unit and once an order."""

    component: Component
    per_unit: Decimal
    per_order: Decimal


@dataclass(frozen=True, slots=True)
class Work:
    """People's minutes, and how they fall as units are made."""

    order_min: Decimal
    build_min: Decimal
    unit_min: Decimal
    learning_pct: Decimal
    learning_until: int
    made_before: int


@dataclass(frozen=True, slots=True)
class DesignFee:
    """What the design costs. ``share`` is of the goods' net price and charged as a fee."""

    per_unit: Decimal
    one_off: Decimal
    one_off_units: int
    share: Decimal


@dataclass(frozen=True, slots=True)
class Product:
    """One unit of what is quoted. ``remade`` is the units made again per good one."""

    pieces: tuple[Piece, ...]
    components: tuple[Need, ...]
    packaging: tuple[Need, ...]
    work: Work
    design_fee: DesignFee
    remade: Decimal


@dataclass(frozen=True, slots=True)
class ShopRates:
    """What holds for the whole shop. ``minor_digits`` are the currency's decimals."""

    minor_digits: int
    labour_rate_per_hour: Decimal
    price_per_kwh: Decimal
    material_overhead_pct: Decimal
    production_overhead_pct: Decimal
    admin_overhead_pct: Decimal


@dataclass(frozen=True, slots=True)
class MarginAim:
    """Profit in per cent of the order's net."""

    margin_pct: Decimal


@dataclass(frozen=True, slots=True)
class MarkupAim:
    """Profit in per cent of the cost."""

    markup_pct: Decimal


@dataclass(frozen=True, slots=True)
class GivenPrice:
    """The shown unit price itself."""

    unit_price: Decimal


Aim = MarginAim | MarkupAim | GivenPrice


@dataclass(frozen=True, slots=True)
class PostageRow:
    """A parcel size: what one costs the shop and what the buyer is charged for it."""

    up_to_units: int
    cost: Decimal
    charged: Decimal


@dataclass(frozen=True, slots=True)
class Channel:
    """Where it is sold. ``postage`` is in order of size, ``margin_breaks`` of quantity."""

    prices_include_tax: bool
    tax_share: Decimal
    fee_share: Decimal
    payment_share: Decimal
    fee_per_order: Decimal
    fee_per_unit: Decimal
    postage: tuple[PostageRow, ...]
    packing: tuple[Need, ...]
    price_step: Decimal
    price_ending: Decimal
    minimum_order: Decimal
    margin_floor_pct: Decimal | None
    aim: Aim | None
    margin_breaks: tuple[tuple[int, MarginAim], ...]


@dataclass(frozen=True, slots=True)
class Job:
    """A quote to compute: a product, the asked quantity and the breaks, in rising order."""

    product: Product
    quantity: int
    breaks: tuple[int, ...]
    channel: Channel
    rates: ShopRates
    aim: Aim | None
    discount_share: Decimal

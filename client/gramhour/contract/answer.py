"""A quote's answer, in the cost view and in the price view.

Money and percentages are decimals (strings on the wire), physical amounts are numbers.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import UNSET, UnsetType

from gramhour.contract.explanation import Explanation
from gramhour.contract.lead_time import LeadTime, PriceLeadTime
from gramhour.contract.listed import ListedPrice
from gramhour.contract.members import Answered, one_of
from gramhour.contract.problem import Problem

PriceFlag = Literal["minimum_order_applied", "above_smaller_break", "next_total_is_lower"]
Flag = Literal[
    PriceFlag,
    "postage_pays_for_goods",
    "below_margin_floor",
    "below_cost",
    "differs_from_listing",
]
Origin = Literal["given", "default", "estimated"]


class CostLines(Answered, frozen=True, kw_only=True):
    """The cost of an order by line, 4 decimals; the lines add up to the total."""

    feedstock: Decimal
    components: Decimal
    machine: Decimal
    energy: Decimal
    nozzle_wear: Decimal
    labour: Decimal
    scrap: Decimal
    rejects: Decimal
    packaging: Decimal
    design: Decimal
    material_overhead: Decimal
    production_overhead: Decimal
    admin_overhead: Decimal
    total: Decimal


class Fees(Answered, frozen=True, kw_only=True):
    """What an order loses to others before the shop sees it, in the minor unit."""

    channel: Decimal
    payment: Decimal
    fixed: Decimal
    postage: Decimal
    design_share: Decimal
    total: Decimal


class Use(Answered, frozen=True, kw_only=True):
    """Physical totals of an order, failures and rejects included; ``builds`` are the good ones."""

    feedstock_g: dict[str, float]
    machine_h: float
    machine_h_by: dict[str, float]
    builds: int
    build_starts: float
    labour_min: float
    energy_kwh: float


class Purchase(Answered, frozen=True, kw_only=True):
    """Packs of one size to buy for the order.

    ``price`` is for all of them, without ``shipping`` (once a purchase, on its first row). What
    is left over of a purchase stands on its last row. ``pack_quantity`` of a material is in grams.
    """

    component: str | UnsetType = UNSET
    material: str | UnsetType = UNSET
    pack_quantity: float
    packs: int
    price: Decimal
    shipping: Decimal
    left_over: float


class Break(Answered, frozen=True, kw_only=True):
    """One quantity, priced as an order of its own."""

    quantity: int
    unit_price: Decimal
    unit_price_net: Decimal
    order_goods: Decimal
    order_postage: Decimal
    order_net: Decimal
    order_tax: Decimal
    order_gross: Decimal
    unit_cost: Decimal
    cost: CostLines
    fees: Fees
    profit: Decimal
    margin_pct: Decimal | None
    markup_pct: Decimal | None
    contribution_per_machine_hour: Decimal | None
    contribution_per_labour_hour: Decimal | None
    use: Use
    purchases: list[Purchase]
    flags: list[Annotated[str, one_of(Flag)]]
    explain: list[Explanation] | UnsetType = UNSET


class Basis(Answered, frozen=True, kw_only=True):
    """Where a number came from.

    ``value`` is what was assumed, for a default, or estimated, then by the named ``profile``.
    """

    pointer: str
    basis: Annotated[str, one_of(Origin)]
    value: str | UnsetType = UNSET
    profile: str | UnsetType = UNSET


class Caution(Answered, frozen=True, kw_only=True):
    """What the buyer and the maker must be told about a hazard.

    An ``unlikely size`` is for the maker alone: a number that is probably in another unit, a
    percentage sent as a fraction, or a product with nothing in it. So is what is ``left out`` of a
    changed rate, which had it before.
    """

    hazard: str
    says: str


class Quote(Answered, frozen=True, kw_only=True):
    """The answer to a quote request in the cost view: everything, for the shop's own eyes.

    ``rates_revision`` is absent where the request brought its own rates. Revision and day
    sent again give the same answer. ``lead_time`` is of the asked quantity, where the sheet has
    staffed hours; if it is null, ``no_lead_time`` says why. ``listed`` is the price that buyers of
    an asked sku get; a break that differs from it is flagged. ``seal`` promises the prices of
    buyers to whoever shows it: of a sku the listed ones.
    """

    currency: str
    rules: str
    rates_revision: int | UnsetType = UNSET
    rates_on: date | UnsetType = UNSET
    valid_until: datetime | UnsetType = UNSET
    at_quantity: Break
    breaks: list[Break]
    lead_time: LeadTime | UnsetType | None = UNSET
    no_lead_time: str | UnsetType = UNSET
    listed: ListedPrice | UnsetType = UNSET
    basis: list[Basis]
    cautions: list[Caution]
    seal: str | UnsetType = UNSET


class PriceBreak(Answered, frozen=True, kw_only=True):
    """One quantity as a buyer sees it."""

    quantity: int
    unit_price: Decimal
    unit_price_net: Decimal
    order_goods: Decimal
    order_postage: Decimal
    order_net: Decimal
    order_tax: Decimal
    order_gross: Decimal
    flags: list[Annotated[str, one_of(PriceFlag)]]


class PriceQuote(Answered, frozen=True, kw_only=True):
    """The answer to a quote request in the price view: what a customer may see, nothing else."""

    currency: str
    valid_until: datetime | UnsetType = UNSET
    at_quantity: PriceBreak
    breaks: list[PriceBreak]
    lead_time: PriceLeadTime | UnsetType | None = UNSET
    basis: list[Basis]
    cautions: list[Caution]
    seal: str | UnsetType = UNSET


class BatchAnswer(Answered, frozen=True, kw_only=True):
    """The answer to one request of a batch: its quote, or the problem that it met."""

    reference: str | UnsetType = UNSET
    quote: Quote | UnsetType = UNSET
    problem: Problem | UnsetType = UNSET


class PriceBatchAnswer(Answered, frozen=True, kw_only=True):
    """The same in the price view."""

    reference: str | UnsetType = UNSET
    quote: PriceQuote | UnsetType = UNSET
    problem: Problem | UnsetType = UNSET


class Done(Answered, frozen=True, kw_only=True):
    """The last line of an NDJSON answer: how many lines came before it."""

    done: int

"""From the sheet's rates to what the calculation uses: prices by gram, hour and piece."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any, TypeVar

from msgspec import UNSET, UnsetType

from gramhour.contract.rates import RateOverrides, RateSheet
from gramhour_service.calculation.components import usual_price_per_piece
from gramhour_service.calculation.feedstock import (
    price_after_rebate,
    price_after_tier,
    price_per_gram,
    shipping_per_pack,
    tier_discount,
    usable_grams,
)
from gramhour_service.calculation.job import (
    Aim,
    Channel,
    Component,
    GivenPrice,
    HoursForm,
    Machine,
    MarginAim,
    MarkupAim,
    Material,
    Need,
    Nozzle,
    Pack,
    PackOffer,
    PostageRow,
    ShopRates,
    YieldForm,
)
from gramhour_service.calculation.machine import (
    depreciation_per_year,
    interest_per_year,
    machine_hour_rate,
    upkeep_per_year,
)
from gramhour_service.calculation.nozzle_wear import wear_per_gram
from gramhour_service.calculation.worked import called
from gramhour_service.resolve.currency import minor_digits
from gramhour_service.resolve.members import Members, Notes, place_of_rate

R = TypeVar("R")


class Rates:
    """A sheet's rates, each resolved once when it is first asked for."""

    def __init__(
        self, sheet: RateSheet, notes: Notes, overrides: RateOverrides | UnsetType = UNSET
    ) -> None:
        """Resolve from ``sheet``, in which ``overrides`` stand already; note defaults used."""
        self.sheet, self.notes, self.placed = sheet, notes, place_of_rate(overrides)
        self.digits = minor_digits(sheet.currency)
        self._resolved: dict[tuple[str, str], Any] = {}

    def material(self, code: str) -> Material:
        """Resolve a filament."""
        return self._once("materials", code, _material)

    def nozzle(self, code: str) -> Nozzle:
        """Resolve a nozzle."""
        return self._once("nozzles", code, _nozzle)

    def machine(self, code: str) -> Machine:
        """Resolve a printer."""
        return self._once("machines", code, _machine)

    def component(self, code: str) -> Component:
        """Resolve a bought-in part."""
        return self._once("components", code, _component)

    def channel(self, code: str) -> Channel:
        """Resolve a channel and what its orders are packed in."""
        members = self.members("channels", code)
        packing = [
            need_of(packing, self.component(packing.word("component")))
            for packing in members.parts("packing")
        ]
        return _channel(members, tuple(packing), self.digits)

    def shop(self) -> ShopRates:
        """Resolve what holds for the whole shop."""
        return ShopRates(
            minor_digits=self.digits,
            labour_rate_per_hour=self._sheet_wide("labour_rate_per_hour"),
            price_per_kwh=self._sheet_wide("price_per_kwh"),
            material_overhead_pct=self._sheet_wide("material_overhead_pct"),
            production_overhead_pct=self._sheet_wide("production_overhead_pct"),
            admin_overhead_pct=self._sheet_wide("admin_overhead_pct"),
        )

    def _sheet_wide(self, name: str) -> Decimal:
        """Read a rate of the whole shop, where it stands."""
        return Members(self.sheet, self.placed(name)[:-1], self.notes).amount(name)

    def members(self, kind: str, code: str) -> Members:
        """Read a rate of the sheet as it stands there."""
        entries = getattr(self.sheet, kind)
        assert entries is not UNSET, "the reader lets only codes through that the sheet has"
        return Members(entries[code], self.placed(kind, code), self.notes)

    def _once(self, kind: str, code: str, make: Callable[[str, Members], R]) -> R:
        found: R | None = self._resolved.get((kind, code))
        if found is None:
            found = self._resolved[kind, code] = make(code, self.members(kind, code))
        return found


def need_of(use: Members, component: Component) -> Need:
    """Read how much of a component is needed, by the unit or by the order."""
    count = use.amount("count")
    if use.word("per") == "unit":
        return Need(component, per_unit=count, per_order=Decimal(0))
    return Need(component, per_unit=Decimal(0), per_order=count)


def aim_of(aim: Members) -> Aim:
    """Read an aim: exactly one of its members is given."""
    if aim.has("margin_pct"):
        return MarginAim(aim.amount("margin_pct"))
    if aim.has("markup_pct"):
        return MarkupAim(aim.amount("markup_pct"))
    return GivenPrice(aim.amount("unit_price"))


def _material(code: str, members: Members) -> Material:
    pack = _pack(members.part("offer")) if members.has("offer") else None
    price = price_per_gram(pack) if pack else members.amount("price_per_kg") / 1000
    return Material(
        code=code,
        price_per_g=called(price, "price_per_g", code),
        pack=pack,
        yield_share=members.share("first_pass_yield_pct"),
        failure_factor=members.amount("failure_factor"),
        abrasion=members.amount("abrasion"),
    )


def _pack(offer: Members) -> Pack:
    usual = offer.whole("usual_packs")
    free_from = (
        offer.whole("free_shipping_from_packs") if offer.has("free_shipping_from_packs") else None
    )
    tiers = [
        (tier.whole("from_packs"), tier.share("discount_pct")) for tier in offer.parts("tiers")
    ]
    pack_g = offer.amount("pack_g")
    after_tier = price_after_tier(offer.amount("list_price"), tier_discount(tiers, usual))
    price = price_after_rebate(after_tier, offer.share("rebate_pct"))
    shipping = shipping_per_pack(offer.amount("shipping_per_purchase"), free_from, usual)
    return Pack(pack_g, usable_grams(pack_g, offer.amount("tail_g")), price + shipping)


def _nozzle(code: str, members: Members) -> Nozzle:
    wear = wear_per_gram(members.amount("price"), members.optional_amount("life_kg"))
    return Nozzle(
        code=code,
        wear_per_g=called(wear, "wear_per_g", code),
        change_min=members.amount("change_min"),
    )


def _machine(code: str, members: Members) -> Machine:
    return Machine(
        code=code,
        rate_per_hour=called(_hour_rate(members), "machine_hour_rate", code),
        warm_up_min=members.amount("warm_up_min"),
        warm_up_kwh=members.amount("warm_up_kwh"),
        usual_nozzle=members.word("usual_nozzle") if members.has("usual_nozzle") else None,
        failures=_failures(members),
    )


def _hour_rate(members: Members) -> Decimal:
    if members.has("rate_per_hour"):
        return members.amount("rate_per_hour")
    price, residual = members.amount("replacement_price"), members.amount("residual_value")
    return machine_hour_rate(
        depreciation_per_year(price, residual, members.amount("life_years")),
        interest_per_year(price, residual, members.share("interest_pct")),
        upkeep_per_year(members.amount("space_per_year"), members.amount("maintenance_per_year")),
        members.amount("hours_per_year"),
    )


def _failures(members: Members) -> YieldForm | HoursForm:
    if members.has("hours_between_failures"):
        return HoursForm(members.amount("hours_between_failures"), members.share("start_yield_pct"))
    return YieldForm(members.share("first_pass_yield_pct"), members.share("loss_at_failure_pct"))


def _component(code: str, members: Members) -> Component:
    offers = tuple(
        PackOffer(offer.whole("pack_quantity"), offer.amount("price"), offer.whole("from_packs"))
        for offer in members.parts("offers")
    )
    shipping = members.amount("shipping_per_purchase")
    stock_price = None
    if members.word("charging") == "stock":
        usual = members.whole_or("usual_pieces", offers[0].pack_quantity * offers[0].from_packs)
        stock_price = called(
            usual_price_per_piece(offers, shipping, usual), "price_from_stock", code
        )
    return Component(
        code=code,
        offers=offers,
        shipping_per_purchase=shipping,
        spare_share=members.share("spare_pct"),
        stock_price=stock_price,
        counted_in_pieces=members.word("measure") == "piece",
    )


def _channel(members: Members, packing: tuple[Need, ...], digits: int) -> Channel:
    rows = [
        PostageRow(row.whole("up_to_units"), row.amount("cost"), row.amount("charged"))
        for row in members.parts("postage")
    ]
    breaks = [
        (entry.whole("from_quantity"), MarginAim(entry.amount("margin_pct")))
        for entry in members.parts("margin_breaks")
    ]
    return Channel(
        prices_include_tax=members.word("prices_include_tax") == "True",
        tax_share=members.share("tax_rate_pct"),
        fee_share=members.share("fee_pct"),
        payment_share=members.share("payment_pct"),
        fee_per_order=members.amount("fee_per_order"),
        fee_per_unit=members.amount("fee_per_unit"),
        postage=tuple(sorted(rows, key=lambda row: row.up_to_units)),
        packing=packing,
        price_step=members.amount_or("price_step", Decimal(1).scaleb(-digits)),
        price_ending=members.amount("price_ending"),
        minimum_order=members.amount("minimum_order"),
        margin_floor_pct=members.optional_amount("margin_floor_pct"),
        aim=aim_of(members.part("aim")) if members.has("aim") else None,
        margin_breaks=tuple(sorted(breaks, key=lambda entry: entry[0])),
    )

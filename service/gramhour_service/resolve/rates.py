"""From the sheet's rates to what the calculation uses: prices by gram, hour and piece."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any, TypeVar

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Basis
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


HowMany = tuple[Decimal, Decimal]
"""How much is needed for each unit, and once an order."""

Kept = dict[tuple[str, str], tuple[Any, tuple[Basis, ...]]]
"""What was resolved of a sheet before, with the defaults used: the same for every request."""


class Rates:
    """A sheet's rates, each resolved once when it is first asked for."""

    def __init__(
        self,
        sheet: RateSheet,
        notes: Notes,
        overrides: RateOverrides | UnsetType = UNSET,
        kept: Kept | None = None,
    ) -> None:
        """Resolve from ``sheet``, in which ``overrides`` stand already; note defaults used.

        ``kept`` has what other requests resolved of the very same sheet, and gets more.
        """
        self.sheet, self.notes, self.placed = sheet, notes, place_of_rate(overrides)
        self.digits = minor_digits(sheet.currency)
        is_as_kept = overrides is UNSET and not notes.explain
        self._kept: Kept = kept if kept is not None and is_as_kept else {}
        self._noted: set[tuple[str, str]] = set()

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
        channel, packing = self._once("channels", code, self._channel)
        needs = [Need(self.component(part), *how_many) for part, how_many in packing]
        return replace(channel, packing=tuple(needs))

    def _channel(self, _: str, members: Members) -> tuple[Channel, list[tuple[str, HowMany]]]:
        packing = [
            (packing.word("component"), how_many(packing)) for packing in members.parts("packing")
        ]
        return _channel(members, self.digits), packing

    def shop(self) -> ShopRates:
        """Resolve what holds for the whole shop."""
        return self._keep(("shop", ""), self._shop)

    def _shop(self, notes: Notes) -> ShopRates:
        def amount(name: str) -> Decimal:
            return Members(self.sheet, self.placed(name)[:-1], notes).amount(name)

        return ShopRates(
            minor_digits=self.digits,
            labour_rate_per_hour=amount("labour_rate_per_hour"),
            price_per_kwh=amount("price_per_kwh"),
            material_overhead_pct=amount("material_overhead_pct"),
            production_overhead_pct=amount("production_overhead_pct"),
            admin_overhead_pct=amount("admin_overhead_pct"),
        )

    def members(self, kind: str, code: str) -> Members:
        """Read a rate of the sheet as it stands there."""
        return self._members(kind, code, self.notes)

    def _members(self, kind: str, code: str, notes: Notes) -> Members:
        entries = getattr(self.sheet, kind)
        assert entries is not UNSET, "the reader lets only codes through that the sheet has"
        return Members(entries[code], self.placed(kind, code), notes)

    def _once(self, kind: str, code: str, make: Callable[[str, Members], R]) -> R:
        return self._keep((kind, code), lambda notes: make(code, self._members(kind, code, notes)))

    def _keep(self, key: tuple[str, str], make: Callable[[Notes], R]) -> R:
        """Resolve once for all requests, and note the defaults used once for this one."""
        found = self._kept.get(key)
        if found is None:
            notes = Notes(self.notes.explain)
            resolved = make(notes)
            assert not notes.faults, "a sound sheet's rates have none"
            found = self._kept[key] = resolved, tuple(notes.basis)
        if key not in self._noted:
            self._noted.add(key)
            self.notes.basis += found[1]
        value: R = found[0]
        return value


def need_of(use: Members, component: Component) -> Need:
    """Read how much of a component is needed."""
    return Need(component, *how_many(use))


def how_many(use: Members) -> HowMany:
    """Read how much of something is needed, by the unit or by the order."""
    count = use.amount("count")
    return (count, Decimal(0)) if use.word("per") == "unit" else (Decimal(0), count)


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


def _channel(members: Members, digits: int) -> Channel:
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
        packing=(),
        price_step=members.amount_or("price_step", Decimal(1).scaleb(-digits)),
        price_ending=members.amount("price_ending"),
        minimum_order=members.amount("minimum_order"),
        margin_floor_pct=members.optional_amount("margin_floor_pct"),
        aim=aim_of(members.part("aim")) if members.has("aim") else None,
        margin_breaks=tuple(sorted(breaks, key=lambda entry: entry[0])),
    )

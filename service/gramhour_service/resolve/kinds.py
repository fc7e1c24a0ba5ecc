"""From the members of one rate to what the calculation uses: prices by gram, hour and piece."""

from decimal import Decimal

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
    Nozzle,
    Pack,
    PackOffer,
    PostageRow,
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
from gramhour_service.resolve.members import Members


def aim_of(aim: Members) -> Aim:
    """Read an aim: exactly one of its members is given."""
    if aim.has("margin_pct"):
        return MarginAim(aim.amount("margin_pct"))
    if aim.has("markup_pct"):
        return MarkupAim(aim.amount("markup_pct"))
    return GivenPrice(aim.amount("unit_price"))


def material(code: str, members: Members) -> Material:
    """Resolve a filament from its members."""
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


def nozzle(code: str, members: Members) -> Nozzle:
    """Resolve a nozzle from its members."""
    wear = wear_per_gram(members.amount("price"), members.optional_amount("life_kg"))
    return Nozzle(
        code=code,
        wear_per_g=called(wear, "wear_per_g", code),
        change_min=members.amount("change_min"),
    )


def machine(code: str, members: Members) -> Machine:
    """Resolve a printer from its members."""
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
    depreciation = depreciation_per_year(price, residual, members.amount("life_years"))
    return _built_up(members, price, residual, depreciation)


def running_rate(members: Members) -> Decimal | None:
    """Say what an hour of a printer costs without its depreciation; none where nobody knows."""
    if members.has("rate_per_hour"):
        return None
    price, residual = members.amount("replacement_price"), members.amount("residual_value")
    return _built_up(members, price, residual, Decimal(0))


def _built_up(
    members: Members, price: Decimal, residual: Decimal, depreciation: Decimal
) -> Decimal:
    return machine_hour_rate(
        depreciation,
        interest_per_year(price, residual, members.share("interest_pct")),
        upkeep_per_year(members.amount("space_per_year"), members.amount("maintenance_per_year")),
        members.amount("hours_per_year"),
    )


def _failures(members: Members) -> YieldForm | HoursForm:
    if members.has("hours_between_failures"):
        return HoursForm(members.amount("hours_between_failures"), members.share("start_yield_pct"))
    return YieldForm(members.share("first_pass_yield_pct"), members.share("loss_at_failure_pct"))


def component(code: str, members: Members) -> Component:
    """Resolve a bought-in part from its members."""
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


def channel(members: Members, digits: int) -> Channel:
    """Resolve a channel from its members, but for what its orders are packed in."""
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

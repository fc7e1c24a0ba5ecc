"""For each rule what is left of the calculation without it: a stand-in of the same shape.

The stand-in of "a rebate comes off the price" is the price as it was, that of a cost line is 0.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from gramhour_service.calculation.arithmetic import ONE, ZERO, as_line, half_up
from gramhour_service.calculation.cover import Packs
from gramhour_service.calculation.job import MarginAim
from gramhour_service.calculation.settle import settle
from gramhour_service.measuring.estimate import Laid

NO_LINE = as_line(ZERO)


def first_of(*args: Any) -> Any:
    return args[0]


def nothing(*_: Any, **__: Any) -> Decimal:
    return ZERO


def no_line(*_: Any) -> Decimal:
    return NO_LINE


def none(*_: Any) -> None:
    return None


def never(*_: Any) -> bool:
    return False


OFF: dict[str, Callable[..., Any]] = {
    # what a price is to reach
    "margin_break": none,
    "aim_at": lambda asked, channel, quantity: MarginAim(Decimal(30)),
    # energy
    "printing_kwh": nothing,
    "energy_cost": nothing,
    "energy_line": no_line,
    # estimates
    "bead_area": lambda width, layer: width * layer,
    "flow_mm3_s": lambda profile, limit: limit or Decimal(1),
    "printing_minutes": lambda volume, layers, flow, pace, change: volume / flow,
    "layer_change_minutes": nothing,
    "grams_of": first_of,
    "shell_form": lambda volume, area, height, profile: Laid(volume, ZERO, 1),
    # failures
    "chance_by_yield": first_of,
    "chance_of_piece": first_of,
    "wasted_by_yield": nothing,
    "largest_failure_factor": min,
    "failures_expected": lambda minutes, factor, hours: minutes / (60 * hours),
    "chance_by_hours": lambda expected, start_share: start_share,
    "wasted_by_hours": nothing,
    "failed_starts": nothing,
    # feedstock
    "filament_area": lambda diameter: diameter * diameter,
    "grams_of_volume": first_of,
    "grams_of_length": first_of,
    "tier_discount": nothing,
    "price_after_tier": first_of,
    "price_after_rebate": first_of,
    "shipping_per_pack": nothing,
    "usable_grams": first_of,
    "price_per_gram": lambda pack: pack.cost / pack.pack_g,
    "feedstock_of_build": nothing,
    "packs_for": lambda grams, usable: 0,
    "whole_pack_addition": nothing,
    "whole_pack_materials": lambda plans: {},
    "feedstock_line": no_line,
    # machine
    "depreciation_per_year": nothing,
    "interest_per_year": nothing,
    "upkeep_per_year": nothing,
    "machine_hour_rate": lambda depreciation, interest, upkeep, hours: depreciation / hours,
    "machine_time": nothing,
    "machine_line": no_line,
    # nozzle wear
    "wear_per_gram": nothing,
    "wear_by_material": first_of,
    "nozzle_wear_of_build": nothing,
    "nozzle_wear_line": no_line,
    # builds
    "pieces_needed": first_of,
    "full_builds": lambda pieces, per_build: 1,
    "pieces_left_over": lambda pieces, per_build: per_build if pieces % per_build else 0,
    "part_of_build": first_of,
    "grams_of_build": lambda feed, pieces, per_build: feed.grams,
    "minutes_of_build": lambda piece, pieces: piece.print_min,
    "remade_per_good_unit": nothing,
    # labour
    "learning_exponent": lambda learning_pct: 0.0,
    "times_at_the_end": lambda quantity, made_before, until: quantity,
    "first_unit": lambda made_before: 1,
    "learning_factor": lambda quantity, *_: Decimal(quantity),
    "nozzle_change_minutes": nothing,
    "once_minutes": nothing,
    "build_minutes": nothing,
    "unit_minutes": nothing,
    "labour_cost": nothing,
    "labour_line": no_line,
    # contribution
    "contribution": first_of,
    "contribution_per_machine_hour": none,
    "contribution_per_labour_hour": none,
    # components
    "open_price": lambda offers, pack_quantity, packs: offers[0].price,
    "cheapest_packs": lambda offers, need: (
        (Packs(offers[0].pack_quantity, -(-need // offers[0].pack_quantity)),) if need else ()
    ),
    "price_of_packs": nothing,
    "shipping_of_purchase": nothing,
    "usual_price_per_piece": lambda offers, shipping, usual: offers[0].price,
    "spares": first_of,
    "cost_from_stock": nothing,
    "with_remakes": first_of,
    "whole_need": lambda need, beyond, counted_in_pieces: int(need),
    "packaging_needs": lambda order: {},
    "components_line": no_line,
    "packaging_line": no_line,
    # design, overheads, rejects, scrap
    "one_off_per_unit": nothing,
    "design_cost": nothing,
    "design_line": no_line,
    "material_overhead_line": no_line,
    "production_overhead_line": no_line,
    "admin_overhead_line": no_line,
    "made_again": nothing,
    "rejects_line": no_line,
    "wasted_printing": nothing,
    "repeated_starts": nothing,
    "scrap_line": no_line,
    # use
    "grams_used": lambda plans: {
        feed.material.code: ONE
        for p in plans
        for piece in p.made.product.pieces
        for feed in piece.feeds
    },
    "machine_hours": lambda plans: {},
    "build_starts": nothing,
    "minutes_worked": nothing,
    "energy_used": nothing,
    # totals
    "paid_machine_time": nothing,
    "variable_cost": lambda lines, machine_time: lines.total,
    "total_cost": lambda lines: lines[0],
    # fees and postage
    "channel_fee": lambda share, gross, digits: half_up(ZERO, digits),
    "payment_fee": lambda share, gross, digits: half_up(ZERO, digits),
    "fixed_fees": nothing,
    "design_share_fee": lambda share, goods_net, digits: half_up(ZERO, digits),
    "total_fees": first_of,
    "parcels": lambda rows, units: [],
    # the order computed back
    "net_of_tax": first_of,
    "goods_value": lambda unit_price, units, minimum: unit_price * units,
    "order_net": lambda goods, charged, channel, digits: goods,
    "order_tax": nothing,
    "order_gross": first_of,
    "order_profit": first_of,
    "margin_pct": none,
    "markup_pct": none,
    "unit_price_net": first_of,
    "unit_cost": first_of,
    # the price
    "share_left": lambda margin, design_share, channel: ONE - margin,
    "cost_with_markup": first_of,
    "net_price": first_of,
    "raw_shown_price": first_of,
    "first_allowed_step": lambda raw, step, ending: int(raw / step) + 2,
    "price_of_step": lambda steps, step, ending: steps * step,
    "discounted": first_of,
    "given_price": lambda unit_price: ONE,
    "smallest_allowed_price": lambda sale, aim, raw: settle(sale, half_up(raw, sale.digits)),
    # flags
    "minimum_order_applied": never,
    "postage_pays_for_goods": never,
    "below_margin_floor": never,
    "below_cost": never,
    "above_smaller_break": never,
    "next_total_is_lower": never,
}

"""A sheet in which every rate has unmistakable digits, and every code, name and note a word.

What buyers see in any case (tax, postage charged, how prices end, cautions) has none.
"""

import base64
import re
from collections.abc import Iterator
from typing import Any

import httpx
from msgspec import Struct, inspect, json

from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.sheet import sound_sheet

WORD = "quetzal"
SEAL = re.compile(r"ey[A-Za-z0-9_-]+\.ey[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+")
CANARY = re.compile(rf"{WORD}|7193[0-9]{{2}}|(?<![0-9a-f])7193(?![0-9a-f])")

SEEN_BY_BUYERS = {
    "currency", "time_zone", "default_breaks", "public", "prices_include_tax", "tax_rate_pct",
    "charged", "price_step", "price_ending", "minimum_order", "multiple_of", "hazards",
    # the day on which it is ready tells of these
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "closed_days",
    "delivery_working_days", "dispatch_working_days", "unattended", "count",
    # what a service prints in and what people call both, and how large a part may be
    "materials", "name", "x_mm", "y_mm", "z_mm",
    # how thin a wall may be, which is told of a part that has thinner ones
    "bead_width_mm",
}  # fmt: skip
WORDS_OF_THE_CONTRACT = {"charging", "measure", "per"}
TOO_SMALL_FOR_A_CANARY = {"outlines", "solid_layers"}

OFFER = {
    "pack_g": "7193.01", "list_price": "71.9302",
    "tiers": [{"from_packs": 719303, "discount_pct": "7.19304"}], "rebate_pct": "7.19305",
    "shipping_per_purchase": "7.19306", "free_shipping_from_packs": 719307,
    "usual_packs": 719308, "tail_g": "7.19309", "delivery_working_days": 3,
}  # fmt: skip
COMPONENT = {
    "name": "quetzal gauge", "note": "from quetzal & co", "charging": "order", "measure": "piece",
    "offers": [{"pack_quantity": 7193, "price": "71.9310", "from_packs": 719311,
                "delivery_working_days": 5}],
    "shipping_per_purchase": "7.19312", "spare_pct": "7.19313", "usual_pieces": 719314,
    "hazards": ["load-bearing"],
}  # fmt: skip
FILAMENT = {
    "name": "quetzal green", "note": "quetzal shop", "density_g_cm3": "1.719315",
    "diameter_mm": "1.719316", "first_pass_yield_pct": "71.9317", "failure_factor": "1.719318",
    "abrasion": "1.719319",
}  # fmt: skip
CHANNEL = {
    "name": "quetzal market", "note": "quetzal says", "public": True, "prices_include_tax": True,
    "tax_rate_pct": 20, "fee_pct": "7.19320", "payment_pct": "1.719321",
    "fee_per_order": "7.19322", "fee_per_unit": "7.19323",
    "postage": [{"up_to_units": 7193, "cost": "7.19324", "charged": "4.90"}],
    "packing": [{"component": "quetzal-gauge", "count": 7193, "per": "order"}],
    "price_step": 1, "price_ending": "0.90", "minimum_order": 5, "multiple_of": 2,
    "margin_floor_pct": "71.9325", "margin_breaks": [
        {"from_quantity": 7193, "margin_pct": "7.19326"}],
    "promise_pct": "71.9356", "dispatch_working_days": 1,
}  # fmt: skip
MOTION = {
    "speed_mm_s": "719.358",
    "acceleration_mm_s2": "7193.59",
    "deceleration_mm_s2": "7193.60",
    "corner_speed_change_mm_s": "7.19361",
    "vertical_speed_mm_s": "71.9362",
    "vertical_acceleration_mm_s2": "719.363",
    "filament_speed_mm_s": "71.9364",
    "filament_acceleration_mm_s2": "719.365",
    "retraction_mm": "0.719366",
    "tool_change_s": "7.19367",
}
PROFILE = {
    "name": "quetzal fine", "note": "as quetzal prints", "layer_mm": "0.719374",
    "bead_width_mm": "1.75", "outlines": 7, "solid_layers": 719, "fill_pct": "71.9376",
    "support_angle_deg": "71.9377", "speed_mm_s": "71.9378", "layer_change_s": "7.19379",
    "flow_limits": [{"nozzle": "quetzal-n4", "material": "quetzal-green", "flow_mm3_s": "7.19380"}],
}  # fmt: skip
SERVICE = {
    "name": "Own parts, printed fine", "note": "quetzal only", "public": True,
    "profile": "quetzal-fine",
    "machine": "quetzal-left", "nozzle": "quetzal-n4", "materials": ["stone"],
    "channel": "quetzal-market", "reject_pct": "7.19381",
    "work": {"order_min": "7.19382", "build_min": "7.19383", "unit_min": "7.19384",
             "learning_pct": "71.9385", "learning_until": 7193, "made_before": 719386},
    "packing": [{"component": "quetzal-gauge", "count": 7193, "per": "unit"}],
    "largest_box": {"x_mm": 150, "y_mm": 140, "z_mm": 130},
}  # fmt: skip
SHEET: dict[str, Any] = {
    "currency": "EUR", "time_zone": "Europe/Vienna",
    "labour_rate_per_hour": "71.9327", "price_per_kwh": "7.19328",
    "material_overhead_pct": "7.19329", "production_overhead_pct": "7.19330",
    "admin_overhead_pct": "7.19331", "default_breaks": [2, 10],
    "staffed_hours": {
        "monday": ["08:00-16:00"], "tuesday": ["08:00-16:00"], "wednesday": ["08:00-16:00"],
        "thursday": ["08:00-16:00"], "friday": ["08:00-14:00"], "saturday": ["09:00-10:00"],
        "sunday": ["09:00-10:00"]},
    "closed_days": ["2026-12-24"],
    "materials": {
        "quetzal-green": {**FILAMENT, "offer": OFFER},
        "quetzal-blue": {**FILAMENT, "price_per_kg": "71.9356"},
        "stone": {**FILAMENT, "name": "Stone grey", "price_per_kg": "71.9390"},
        "quetzal-plain": {"name": "quetzal plain", "price_per_kg": "71.9332"},
    },
    "nozzles": {
        "quetzal-n4": {
            "name": "quetzal nozzle", "note": "quetzal", "diameter_mm": "0.719333",
            "price": "71.9334", "life_kg": "7.19335", "change_min": "7.19336"},
    },
    "machines": {
        "quetzal-left": {
            "name": "quetzal left", "note": "quetzal", "replacement_price": "7193.37",
            "residual_value": "719.338", "life_years": "7.19339", "interest_pct": "7.19340",
            "space_per_year": "719.341", "maintenance_per_year": "719.342",
            "hours_per_year": "7193.43", "power_w": "719.344", "warm_up_min": "7.19345",
            "warm_up_kwh": "0.719346", "usual_nozzle": "quetzal-n4",
            "hours_between_failures": "71.9347", "start_yield_pct": "71.9348",
            "count": 3, "unattended": True, "motion": MOTION, "pace": "0.719368",
            "build_volume": {"x_mm": "719.369", "y_mm": "719.370", "z_mm": "719.371"},
            "spacing_mm": "7.19372", "edge_mm": "7.19373"},
        "quetzal-right": {
            "rate_per_hour": "7.19349", "power_w": "719.350",
            "first_pass_yield_pct": "71.9351", "loss_at_failure_pct": "71.9352"},
    },
    "components": {"quetzal-gauge": COMPONENT},
    "channels": {
        "quetzal-market": {**CHANNEL, "aim": {"margin_pct": "17.19353"}},
        "quetzal-shop": {"prices_include_tax": False, "aim": {"markup_pct": "17.19354"}},
        "fair": {"name": "quetzal fair", "public": True, "prices_include_tax": False,
                 "aim": {"markup_pct": "17.19357"}},
        "quetzal-list": {"prices_include_tax": False, "aim": {"unit_price": "7193.55"}},
    },
    "profiles": {"quetzal-fine": PROFILE},
    "services": {"own-parts": SERVICE},
}  # fmt: skip


def sheet() -> RateSheet:
    """Read the sheet."""
    return sound_sheet(SHEET)


DRAWN = "x-request-id"
"""A header whose digits are drawn at random."""
MEASURED_TIME = re.compile(r"^gramhour_request_seconds_sum{.*$", re.MULTILINE)
"""Metrics tell how long requests took, in digits that may be any."""


def found_in(answer: httpx.Response) -> list[str]:
    """Find the canaries in all that a caller is told: status line, headers, body."""
    told = [f"{answer.status_code} {answer.reason_phrase}", MEASURED_TIME.sub("", answer.text)]
    told += [f"{name}: {value}" for name, value in answer.headers.items() if name != DRAWN]
    told += [part for seal in SEAL.findall(answer.text) for part in said_by(seal)]
    return [hit for text in told for hit in CANARY.findall(text.lower().replace(".", ""))]


def said_by(seal: str) -> list[str]:
    """Read what is signed, as anybody can; that a seal names its channel is as agreed."""
    parts = [
        json.decode(base64.urlsafe_b64decode(part + "=" * (-len(part) % 4)))
        for part in seal.split(".")[:2]
    ]
    is_seal = "gramhour-price" in parts[0]["typ"]
    assert is_seal == bool(parts[1].pop("channel", None))
    return [str(part) for part in parts]


def leaves(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """List the members of a sheet that have a value of their own, each with its name."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, key)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner, name)
    else:
        yield name, value


def members_of(struct: type[Struct]) -> set[str]:
    """List the names of all members of a type of the contract and of those within it."""
    names: set[str] = set()
    waiting: list[Any] = [inspect.type_info(struct)]
    while waiting:
        match waiting.pop():
            case inspect.StructType(fields=fields):
                names |= {field.encode_name for field in fields}
                waiting += [field.type for field in fields]
            case inspect.Metadata(type=inner) | inspect.ListType(item_type=inner):
                waiting.append(inner)
            case inspect.DictType(value_type=inner):
                waiting.append(inner)
            case inspect.UnionType(types=types):
                waiting += types
    return names


def members_in(value: Any) -> set[str]:
    """List all names that stand in a sheet."""
    if isinstance(value, dict):
        return set(value).union(*map(members_in, value.values()))
    return set().union(*map(members_in, value)) if isinstance(value, list) else set()

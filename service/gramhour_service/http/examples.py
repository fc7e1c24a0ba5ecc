"""Requests that work with the demo's rates, for the contract's document; a test sends each."""

from importlib.resources import files
from typing import Any

import msgspec

from gramhour.contract.documents import parse_toml


def _demo(name: str) -> dict[str, Any]:
    """Read a demo request as JSON has it, amounts as texts."""
    sent = parse_toml(files("gramhour_service").joinpath(f"demo/{name}.toml").read_bytes())
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(sent))
    return plain


HERB_PLANTER = _demo("herb-planter")
COMPARED_NOZZLES = _demo("shop/compare-nozzles")
HERB_PLANTER_ENTRY = {
    "product": HERB_PLANTER["product"],
    "variants": [{"name": "chalk", "materials": {"asa-green": "pla-chalk"}}],
}
PLANTER_LISTING = {"product": "herb-planter", "channel": "own-shop", "breaks": [1, 10]}
WHAT_IF_WORK_IS_DEARER = {
    "proposed": [{"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}],
    "note": "what would it do?",
}
TWO_REQUESTS = {
    "requests": [
        {**HERB_PLANTER, "reference": "row 1"},
        {**HERB_PLANTER, "quantity": 50, "breaks": [], "reference": "row 2"},
    ]
}
DEARER_WORK = {
    "changes": [{"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}],
    "based_on_revision": 1,
    "effective_from": "2999-12-31",
    "note": "collective agreement",
}
ONE_PIECE: dict[str, str | int] = {
    "material": "asa-green",
    "machine": "large",
    "mass_g": "42.5",
    "print_min": 95,
    "channel": "own-shop",
    "quantity": 10,
}

TIMED_BUILDS: dict[str, Any] = {
    "profile": "fine-04",
    "machine": "small-1",
    "nozzle": "n04",
    "builds": [
        {"material": "pla-chalk", "mass_g": 142, "layers": 410, "actual_min": 333},
        {"material": "pla-chalk", "mass_g": 61, "layers": 10, "actual_min": 138},
    ],
}

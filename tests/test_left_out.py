"""What a changed rate had before and has no longer is named; what another way replaces is not."""

from typing import Any

import msgspec
import pytest

from gramhour.contract.channel import Channel
from gramhour.contract.machine import Machine
from gramhour.contract.material import Material
from gramhour_service.sheets.left_out import left_out

PLA = {"price_per_kg": 20, "density_g_cm3": "1.24"}
BY_PACK = {"offer": {"pack_g": 1_000, "list_price": 20, "tail_g": 15}}
BUILT_UP = {"replacement_price": 900, "life_years": 4, "hours_per_year": 3_000, "residual_value": 9}
PRINTER = {**BUILT_UP, "power_w": 100}
SOLD = {"prices_include_tax": True, "aim": {"margin_pct": 40}}


@pytest.mark.parametrize(
    ("kind", "before", "now", "says"),
    [
        (Material, PLA, {"price_per_kg": 21}, ["density_g_cm3 is gone; it was 1.24"]),
        (Material, PLA, {**PLA, "price_per_kg": 21}, []),
        (Material, PLA, {**BY_PACK, "density_g_cm3": 1}, []),
        (Material, BY_PACK, {"offer": {"pack_g": 1, "list_price": 2}},
         ["tail_g of offer is gone; it was 15"]),
        (Material, {**PLA, "name": "P"}, PLA, ["name is gone; it was 'P'"]),
        (Machine, {**PRINTER, "unattended": True}, {"rate_per_hour": 1, "power_w": 100},
         ["unattended is gone; it was true"]),
        (Machine, {**PRINTER, "count": 3}, {**PRINTER, "residual_value": None},
         ["residual_value is gone; it was 9", "count is gone; it was 3"]),
        (Machine, {**PRINTER, "hours_between_failures": 200}, PRINTER,
         ["hours_between_failures is gone; it was 200"]),
        (Machine, {**PRINTER, "hours_between_failures": 200},
         {**PRINTER, "first_pass_yield_pct": 95}, []),
        (Channel, SOLD, {**SOLD, "aim": {"markup_pct": 60}}, []),
        (Channel, {**SOLD, "postage": [{"up_to_units": 1, "cost": 5}]}, SOLD, ["postage is gone"]),
    ],
)  # fmt: skip
def test_members_that_are_gone_are_named(
    kind: type[Any], before: dict[str, Any], now: dict[str, Any], says: list[str]
) -> None:
    old, new = (
        msgspec.convert({name: each for name, each in sent.items() if each is not None}, kind,
                        strict=False)
        for sent in (before, now)
    )  # fmt: skip
    assert list(left_out(old, new)) == says

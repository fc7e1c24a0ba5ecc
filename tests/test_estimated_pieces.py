"""A piece with a geometry and a profile: grams and minutes by hand, each told to be estimated."""

from decimal import Decimal
from math import pi
from typing import Any

import pytest

from gramhour.contract.answer import Basis, Quote
from gramhour.contract.problem import Fault, Refused
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet
from tests.test_faults import REMOVED, changed

PIECE: dict[str, Any] = {
    "machine": "m", "nozzle": "n4", "material": "plain", "profile": "usual",
    "geometry": {"volume_cm3": 8, "area_cm2": 24, "box": {"x_mm": 20, "y_mm": 20, "z_mm": 20}},
}  # fmt: skip
RATES: dict[str, Any] = {
    "currency": "EUR", "labour_rate_per_hour": 0, "price_per_kwh": 0,
    "materials": {"plain": {"price_per_kg": 20, "density_g_cm3": "1.25"},
                  "soft": {"price_per_kg": 20, "density_g_cm3": "1.25"}},
    "nozzles": {"n4": {}, "n8": {}},
    "machines": {"m": {"rate_per_hour": 6, "power_w": 0, "pace": "0.8"}},
    "channels": {"shop": {"prices_include_tax": False, "aim": {"markup_pct": 0}}},
    "profiles": {"usual": {
        "layer_mm": "0.2", "bead_width_mm": "0.45", "outlines": 3, "solid_layers": 4,
        "fill_pct": 20, "speed_mm_s": 60, "layer_change_s": "1.5",
        "flow_limits": [{"nozzle": "n4", "flow_mm3_s": "3.5"},
                        {"material": "soft", "flow_mm3_s": 2},
                        {"nozzle": "n8", "material": "soft", "flow_mm3_s": 1}]}},
}  # fmt: skip
USED_MM3 = 2400 * 3 * 0.45 + (8000 - 2400 * 3 * 0.45) * 0.20  # the shell form of costing.md 7
PLACE = "/product/pieces/0"


def request(piece: dict[str, Any] | None = None, quantity: int = 1) -> dict[str, Any]:
    pieces = [PIECE | (piece or {})]
    return {"product": {"pieces": pieces}, "quantity": quantity, "channel": "shop", "breaks": []}


def quoted(
    piece: dict[str, Any] | None = None, rates: dict[str, Any] | None = None, quantity: int = 1
) -> Quote:
    return answer_quote(request(piece, quantity), sound_sheet(changed(RATES, rates or {})))


def minutes(flow: float, pieces: int = 1, pace: float = 0.8) -> float:
    return (USED_MM3 * pieces / (flow * pace) + 100 * 1.5) / 60


def test_a_cube_costs_the_grams_and_the_machine_time_of_the_shell_form() -> None:
    told = quoted().at_quantity
    assert pytest.approx(4192) == USED_MM3
    assert told.use.feedstock_g == {"plain": 5.24}  # 4.192 cm³ · 1.25
    assert told.cost.feedstock == Decimal("0.1048")
    assert told.use.machine_h == pytest.approx(minutes(3.5) / 60, abs=5e-5)


@pytest.mark.parametrize(
    ("piece", "flow"),
    [
        ({}, 3.5),
        ({"material": "soft"}, 2),
        ({"nozzle": "n8"}, (0.25 * 0.2 + pi * 0.01) * 60),  # the bead at its speed
        ({"nozzle": "n8", "material": "soft"}, 1),
    ],
    ids=["the nozzle's", "the filament's, which is less", "none", "that of both, the least"],
)
def test_of_the_flow_limits_that_hold_the_least_decides_unless_the_bead_takes_less(
    piece: dict[str, Any], flow: float
) -> None:
    assert quoted(piece).at_quantity.use.machine_h == pytest.approx(minutes(flow) / 60, abs=5e-5)


ROOM = {"x_mm": 68, "y_mm": 46, "z_mm": 20}
"""With 2 mm along the edges and 4 between, 64 by 42 mm: 2 by 1 would be easy, 2 by 1 it is not."""


def test_a_build_holds_as_many_as_fit_and_changes_its_layers_once() -> None:
    roomy = {
        "/machines/m/build_volume": ROOM,
        "/machines/m/edge_mm": 2,
        "/machines/m/spacing_mm": 4,
    }
    told = quoted({}, roomy, quantity=3)
    assert (
        Basis(pointer=f"{PLACE}/pieces_per_build", basis="estimated", value="2", profile="usual")
        in told.basis
    )
    # A full build of two, and one of a single piece with all of its layers.
    assert told.at_quantity.use.builds == 2
    assert told.at_quantity.use.machine_h == pytest.approx(
        (minutes(3.5, pieces=2) + minutes(3.5)) / 60, abs=5e-5
    )


def test_every_estimate_names_the_profile_and_a_buyer_is_told_only_that_it_is_one() -> None:
    told = quoted()
    estimated = {each.pointer: each for each in told.basis if each.basis == "estimated"}
    assert {place: each.value for place, each in estimated.items()} == {
        f"{PLACE}/print_min": "27.4524",
        f"{PLACE}/per_build_min": "2.5000",
        f"{PLACE}/mass_g": "5.2400",
    }
    assert {each.profile for each in estimated.values()} == {"usual"}
    seen = [each for each in price_view(told).basis if each.basis == "estimated"]
    assert seen == [Basis(pointer=place, basis="estimated") for place in estimated]


def faults(piece: dict[str, Any], rates: dict[str, Any] | None = None) -> list[Fault]:
    with pytest.raises(Refused) as refusal:
        quoted(piece, rates)
    return list(refusal.value.faults)


def test_what_does_not_fit_is_refused_with_both_sizes_even_if_somebody_says_how_many_do() -> None:
    low = {"/machines/m/build_volume": {**ROOM, "z_mm": "19.9"}, "/machines/m/edge_mm": 2}
    for piece in ({}, {"pieces_per_build": 4}):
        assert faults(piece, low) == [
            Fault(
                f"{PLACE}/geometry",
                "the piece is 20 × 20 × 20 mm, the machine's room 68 × 46 × 19.9 mm, of which "
                "2 mm along the edge stay free; split the piece, or choose a larger machine",
            )
        ]


def test_more_volume_than_the_box_holds_is_a_slip_of_units() -> None:
    box = {"geometry": {**PIECE["geometry"], "volume_cm3": 8000}}
    assert faults(box) == [
        Fault(
            f"{PLACE}/geometry/volume_cm3",
            "is more than its box holds: look at the units (cm3, mm)",
        )
    ]


def test_grams_need_a_density() -> None:
    assert faults({}, {"/materials/plain/density_g_cm3": REMOVED}) == [
        Fault(
            f"{PLACE}/material",
            "the material 'plain' has no density_g_cm3, which grams need",
        )
    ]


def test_a_piece_is_described_or_shaped_but_not_both() -> None:
    both = {"print_min": 10, "feed": [{"material": "plain", "mass_g": 1}]}
    assert [fault.pointer for fault in faults(both)] == [PLACE]
    assert faults({"profile": "usuall"})[0].detail == (
        "unknown code 'usuall': the sheet has none such in profiles; did you mean 'usual'?"
    )


def test_what_pieces_on_one_machine_take_as_usual_is_told_once() -> None:
    rates = sound_sheet(changed(RATES, {"/machines/m/pace": REMOVED}))
    asked = request() | {"product": {"pieces": [PIECE, PIECE]}}
    told = [each.pointer for each in answer_quote(asked, rates).basis]
    assert told.count("/rates/machines/m/pace") == 1
    assert len(told) == len(set(told))

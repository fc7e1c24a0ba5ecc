"""Profiles, services and rooms of machines: what of them is refused, and where."""

from typing import Any

import pytest

from gramhour.contract.problem import Fault, Refused
from gramhour_service.resolve.sheet import sound_sheet
from tests.test_faults import REMOVED, SHEET, changed

FINE, OWN = "/profiles/fine-04", "/services/own-parts"

FAULTS: list[tuple[dict[str, Any], list[tuple[str, str]]]] = [
    (
        {f"{FINE}/bead_width_mm": "0.19"},
        [
            (
                f"{FINE}/bead_width_mm",
                "must be at least layer_mm (0.2), not 0.19: a bead that is higher than wide is "
                "not laid flat",
            )
        ],
    ),
    (
        {f"{FINE}/flow_limits": [{"nozzle": "n04", "flow_mm3_s": n} for n in (9, 11)]},
        [
            (
                f"{FINE}/flow_limits/1",
                "the same nozzle and material stand twice; keep one limit of them",
            )
        ],
    ),
    (
        {"/machines/small-1/edge_mm": 110},
        [
            (
                "/machines/small-1/edge_mm",
                "110 mm along each side leave nothing of 220 mm; name a smaller edge",
            ),
            (
                f"{OWN}/largest_box",
                "200 × 200 × 180 mm do not fit the machine 'small-1', which has 220 × 220 × 240 "
                "mm and keeps 110 mm free along each side; name a smaller box",
            ),
        ],
    ),
    (
        {f"{OWN}/materials": ["pla-chalk", "pla-chalk"]},
        [(f"{OWN}/materials/1", "'pla-chalk' stands twice; keep one")],
    ),
    (
        {"/machines/small-1/build_volume": REMOVED},
        [
            (
                f"{OWN}/machine",
                "the machine 'small-1' has no build_volume, without which nothing says which "
                "parts fit; add it there",
            )
        ],
    ),
    (
        {f"{OWN}/largest_box/y_mm": "210.5"},
        [
            (
                f"{OWN}/largest_box",
                "200 × 210.5 × 180 mm do not fit the machine 'small-1', which has 220 × 220 × 240 "
                "mm and keeps 5 mm free along each side; name a smaller box",
            )
        ],
    ),
    (
        {f"{OWN}/packing/1/count": "0.5"},
        [
            (
                f"{OWN}/packing/1/count",
                "must be whole, not 0.5: the part is counted in pieces (give it a measure of m, "
                "g or ml if it is cut or poured)",
            )
        ],
    ),
]


@pytest.mark.parametrize(
    ("changes", "expected"), FAULTS, ids=[next(iter(changes)) for changes, _ in FAULTS]
)
def test_what_contradicts_itself_is_refused_in_its_place(
    changes: dict[str, Any], expected: list[tuple[str, str]]
) -> None:
    with pytest.raises(Refused) as refusal:
        sound_sheet(changed(SHEET, changes))
    assert list(refusal.value.faults) == [Fault(place, detail) for place, detail in expected]


THERE_ARE = {
    "profiles": "profiles; there are: coarse-08, fine-04, strong-06",
    "machines": "machines; there are: large, small-1, small-2",
    "nozzles": "nozzles; there are: n04, n06, n08",
    "channels": "channels; there are: market, own-shop, trade",
    "materials": "materials; there are: asa-green, pa-fibre, petg-clear, pla-chalk, tpu-slate",
    "components": "components; there are: bolt-m5, box, care-card, carton, counter-display and 7 "
    "more",
}
CODES = ["profile", "machine", "nozzle", "channel", "materials/0", "packing/0/component"]


@pytest.mark.parametrize("member", CODES)
def test_every_code_of_a_service_must_be_one_of_the_sheet(member: str) -> None:
    kind = {"materials/0": "materials", "packing/0/component": "components"}.get(
        member, f"{member}s"
    )
    with pytest.raises(Refused) as refusal:
        sound_sheet(changed(SHEET, {f"{OWN}/{member}": "zzz"}))
    assert [(fault.pointer, fault.detail) for fault in refusal.value.faults] == [
        (f"{OWN}/{member}", f"unknown code 'zzz': the sheet has none such in {THERE_ARE[kind]}")
    ]


@pytest.mark.parametrize(("member", "kind"), [("nozzle", "nozzles"), ("material", "materials")])
def test_every_code_of_a_flow_limit_must_be_one_of_the_sheet(member: str, kind: str) -> None:
    place = f"{FINE}/flow_limits/1/{member}"
    with pytest.raises(Refused) as refusal:
        sound_sheet(changed(SHEET, {place: "zzz"}))
    assert [(fault.pointer, fault.detail) for fault in refusal.value.faults] == [
        (place, f"unknown code 'zzz': the sheet has none such in {THERE_ARE[kind]}")
    ]

"""POST /v1/calibrations: timed builds in, the pace and the change of layer that fit them out."""

from typing import Any

import pytest

from tests.http.door import Door, problem_of

PATH = "/v1/calibrations"
FLOW_MM3_S = 0.081416 * 90  # the bead of the demo's fine profile at its speed
PLA_G_CM3 = 1.24


def minutes(mass_g: float, layers: int, pace: float, change_s: float) -> str:
    volume = mass_g / PLA_G_CM3 * 1000
    return f"{(volume / (FLOW_MM3_S * pace) + layers * change_s) / 60:.9f}"


def asked(*builds: tuple[float, int], pace: float = 0.75, change_s: float = 2.5) -> dict[str, Any]:
    return {
        "profile": "fine-04", "machine": "small-1", "nozzle": "n04",
        "builds": [
            {"material": "pla-chalk", "mass_g": mass, "layers": layers,
             "actual_min": minutes(mass, layers, pace, change_s)}
            for mass, layers in builds
        ],
    }  # fmt: skip


def test_builds_that_took_what_a_pace_and_a_change_say_give_them_back(shop: Door) -> None:
    told = shop.ask("POST", PATH, "cost", json=asked((140, 400), (60, 10), (25, 600))).json()
    assert (told["pace"], told["layer_change_s"]) == ("0.7500", "2.50")
    assert told["fitted"] == ["pace", "layer_change_s"]
    assert told["largest_residual_min"] == 0
    first = told["builds"][0]
    # By the rates as they are the pace is 0.82 and a change takes 1.6 s.
    assert first["estimated_min"] == round(float(minutes(140, 400, 0.82, 1.6)), 2)
    assert first["calibrated_min"] == round(first["actual_min"], 2)


def test_one_build_tells_the_pace_and_leaves_the_change_as_the_profile_has_it(shop: Door) -> None:
    told = shop.ask("POST", PATH, "cost", json=asked((140, 400), change_s=1.6)).json()
    assert (told["pace"], told["layer_change_s"], told["fitted"]) == ("0.7500", "1.60", ["pace"])


def test_a_volume_stands_for_grams(shop: Door) -> None:
    sent = asked((124, 400), (60, 10))
    by_mass = shop.ask("POST", PATH, "cost", json=sent).json()
    del sent["builds"][0]["mass_g"]
    sent["builds"][0]["volume_cm3"] = 100
    assert shop.ask("POST", PATH, "cost", json=sent).json() == by_mass


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"profile": "fine-05"}, "/profile"),
        ({"machine": "smal-1"}, "/machine"),
        ({"builds": []}, "/builds"),
        ({"builds": [{"material": "pla-chalk", "layers": 1, "actual_min": 1}]}, "/builds/0"),
        (
            {"builds": [{"material": "pla-chalk", "mass_g": 1, "layers": 0, "actual_min": 0}]},
            "/builds/0/layers /builds/0/actual_min",
        ),
    ],
)
def test_what_is_wrong_is_told_in_its_place(shop: Door, change: dict[str, Any], place: str) -> None:
    answer = shop.ask("POST", PATH, "cost", json={**asked((1, 1)), **change})
    kind, faults = problem_of(answer)
    assert (kind, " ".join(fault["pointer"] for fault in faults)) == ("invalid-request", place)

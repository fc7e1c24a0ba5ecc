"""Calibration: the least squares of a second library, and what no shop's numbers may lead to."""

from decimal import Decimal
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gramhour_service.measuring.calibration import CannotCalibrate, Timed, calibrate

GIVEN = Decimal("1.5")


def timed(flow: float, layers: int, actual: float) -> Timed:
    return Timed(Decimal(str(flow)), layers, Decimal(str(actual)))


def test_builds_that_follow_the_rule_give_back_their_pace_and_change_of_layer() -> None:
    # actual = flow/0.8 + layers · 3/60
    builds = [timed(80, 100, 105), timed(40, 400, 70), timed(200, 50, 252.5)]
    found = calibrate(builds, GIVEN)
    assert (found.pace, found.layer_change_s) == (Decimal("0.8"), Decimal(3))
    assert found.residuals_min == (Decimal(0),) * 3
    assert found.fitted == ("pace", "layer_change_s")


def test_scattered_builds_give_what_another_library_solves() -> None:
    random = Random(3)
    flows = [round(random.uniform(20, 600), 1) for _ in range(12)]
    layers = [random.randint(50, 800) for _ in range(12)]
    actual = [
        round(f / 0.7 + n * 2 / 60 + random.gauss(0, 4), 1)
        for f, n in zip(flows, layers, strict=True)
    ]
    found = calibrate([timed(*build) for build in zip(flows, layers, actual, strict=True)], GIVEN)
    design = np.array([flows, np.array(layers) / 60]).T
    (slowness, change), *_ = np.linalg.lstsq(design, np.array(actual))
    assert float(found.pace) == pytest.approx(1 / slowness, abs=5e-5)
    assert float(found.layer_change_s) == pytest.approx(change, abs=5e-3)
    assert [float(rest) for rest in found.residuals_min] == pytest.approx(
        list(actual - design @ (slowness, change)), abs=5e-3
    )


@pytest.mark.parametrize("builds", [[(60, 100, 80)], [(60, 100, 80), (120, 200, 160)]])
def test_builds_that_cannot_tell_the_two_apart_fit_the_pace_alone(
    builds: list[tuple[float, int, float]],
) -> None:
    found = calibrate([timed(*build) for build in builds], GIVEN)
    # 60/(80 − 100 · 1.5/60)
    assert found.pace == Decimal("0.7742")
    assert (found.layer_change_s, found.fitted) == (GIVEN, ("pace",))


def test_a_change_of_layer_never_takes_less_than_no_time() -> None:
    found = calibrate([timed(100, 10, 130), timed(100, 900, 120)], GIVEN)
    assert (found.layer_change_s, found.fitted) == (Decimal(0), ("pace",))
    assert found.pace == Decimal("0.8000")
    assert found.residuals_min == (Decimal(5), Decimal(-5))


def test_no_machine_is_faster_than_its_speed() -> None:
    found = calibrate([timed(100, 100, 95), timed(200, 400, 210)], GIVEN)
    assert found.pace == 1
    # Least squares of −5 and 10 over 100/60 and 400/60 of a minute.
    assert found.layer_change_s == Decimal("1.24")
    assert found.fitted == ("layer_change_s",)


@pytest.mark.parametrize("builds", [[], [timed(0, 10, 5)]])
def test_without_a_build_that_laid_something_there_is_nothing_to_fit(builds: list[Timed]) -> None:
    with pytest.raises(CannotCalibrate, match="at least one build"):
        calibrate(builds, GIVEN)


@given(
    st.lists(
        st.tuples(st.integers(1, 2000), st.integers(1, 3000), st.integers(1, 5000)), min_size=1
    )
)
def test_pace_and_change_stay_within_what_can_be(builds: list[tuple[int, int, int]]) -> None:
    found = calibrate([timed(*build) for build in builds], GIVEN)
    assert 0 <= found.pace <= 1
    assert found.layer_change_s >= 0
    assert len(found.residuals_min) == len(builds)
